// The pictures, drawn by the library that is handed in.

import type * as PlotLibrary from '@observablehq/plot';
import type { Bin, LeadTime } from '$lib/api';
import { estimatorName, leastSquares } from './calibration';

type Plot = typeof PlotLibrary;

const share = (d: number) => `${Math.round(d * 100)}`;

/** What was said against what came, with the bars of luck and the number of forecasts. */
export function reliability(plot: Plot, width: number, bins: readonly Bin[]): Element {
  const most = Math.max(1, ...bins.map((b) => b.count));
  return plot.plot({
    width,
    height: Math.min(360, width * 0.75),
    marginLeft: 62,
    marginBottom: 42,
    x: {
      domain: [0, 1],
      label: 'The forecast said, %',
      tickFormat: share,
      labelAnchor: 'center',
      labelArrow: 'none'
    },
    y: {
      domain: [0, 1],
      label: 'It came about, %',
      tickFormat: share,
      grid: true,
      labelAnchor: 'center',
      labelArrow: 'none'
    },
    marks: [
      plot.line(
        [
          [0, 0],
          [1, 1]
        ],
        { stroke: 'var(--quiet)', strokeDasharray: '4 4' }
      ),
      plot.ruleX([...bins], {
        x: 'chance',
        y1: 'low',
        y2: 'high',
        stroke: 'var(--quiet)',
        strokeOpacity: 0.45,
        strokeWidth: 8
      }),
      plot.dot([...bins], {
        x: 'chance',
        y: 'won',
        r: (b: Bin) => 3 + 6 * Math.sqrt(b.count / most),
        fill: 'var(--ink)'
      }),
      plot.text([...bins], {
        x: 'chance',
        y: 'won',
        text: (b: Bin) => String(b.count),
        dx: 14,
        textAnchor: 'start',
        fill: 'var(--ink)'
      })
    ],
    r: { type: 'identity' }
  });
}

/** One figure by lead time, ours beside least squares. */
export function byLead(
  plot: Plot,
  width: number,
  rows: readonly LeadTime[],
  figure: (l: LeadTime) => number,
  label: string
): Element {
  const points = rows.map((r) => ({ ahead: r.ahead, value: figure(r), estimator: r.estimator }));
  const last = Math.max(...points.map((p) => p.ahead));
  const own = (p: { estimator: string }) => p.estimator !== leastSquares;
  return plot.plot({
    width,
    height: 210,
    marginLeft: 62,
    marginRight: 108,
    marginBottom: 42,
    x: {
      label: 'Matches ahead',
      labelAnchor: 'center',
      labelArrow: 'none',
      ticks: [...new Set(points.map((p) => p.ahead))],
      tickFormat: (d: number) => String(d)
    },
    y: {
      zero: true,
      nice: true,
      grid: true,
      label,
      labelAnchor: 'center',
      labelArrow: 'none',
      labelOffset: 54,
      ticks: 4
    },
    marks: [
      plot.line(points.filter(own), { x: 'ahead', y: 'value', stroke: 'var(--ink)', strokeWidth: 2.5 }),
      plot.line(
        points.filter((p) => !own(p)),
        { x: 'ahead', y: 'value', stroke: 'var(--quiet)', strokeDasharray: '5 4', strokeWidth: 2 }
      ),
      plot.dot(points, {
        x: 'ahead',
        y: 'value',
        r: 4,
        fill: (p: { estimator: string }) => (own(p) ? 'var(--ink)' : 'var(--card)'),
        stroke: (p: { estimator: string }) => (own(p) ? 'var(--ink)' : 'var(--quiet)')
      }),
      plot.text(
        points.filter((p) => p.ahead === last),
        {
          x: 'ahead',
          y: 'value',
          dx: 10,
          textAnchor: 'start',
          fill: 'var(--ink)',
          text: (p: { estimator: string }) => estimatorName(p.estimator)
        }
      )
    ],
    color: { type: 'identity' }
  });
}

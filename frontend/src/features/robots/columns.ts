// The columns of the robots table, made from the game file. A column knows its
// value, how it is written and whether more is better; the table knows the rest.

import type { TeamEstimate } from '$lib/api';
import { actionFigures, type ActionFigure } from '$lib/game/actions';
import { distinctName } from '$lib/game/names';
import { nameOf, type Game } from '$lib/game/types';
import { fixed, halfWidth, percent, plusMinus, signed, type Spread } from '$lib/figures';
import { claimsOf, pitQuestions, type Pit } from '$lib/pit';
import type { Summary } from './seen';

/** Which of a robot's three figures the estimate column shows. */
export type View = 'now' | 'points' | 'working';

export const views: readonly { id: View; name: string; means: string }[] = [
  { id: 'now', name: 'Next match', means: 'points to expect of it in its next match' },
  { id: 'points', name: 'Whole event', means: 'points a match over the event' },
  { id: 'working', name: 'When nothing stops it', means: 'points a match when it does not break down' }
];

/** One robot as the table shows it. Without an estimate there is nothing to compare yet. */
export interface RobotRow {
  team: string;
  name: string;
  ours: boolean;
  estimate?: TeamEstimate;
  /** What its records say; undefined until they are read. */
  seen?: Summary;
  /** Least squares of each official component; undefined where the schedule does not settle it. */
  components?: ReadonlyMap<string, number | undefined>;
  /** What was heard at its pit; undefined: nobody was there. */
  pit?: Pit | undefined;
}

export const groups = [
  'Points a match',
  'By period',
  'Actions',
  'Share that counts',
  'Seen',
  'Least squares',
  'Claims'
] as const;
export type Group = (typeof groups)[number];

/** What a cell draws, in the column's own unit. */
export interface Drawn {
  mean: number;
  /** The middle half, and the outer interval of the words beside it. */
  half?: [number, number];
  wide?: [number, number];
}

export interface Column {
  id: string;
  label: string;
  /** Second line of the head, where the label alone is not clear. */
  under?: string;
  group: Group;
  help: string;
  /** 1 stays longest when the table gets narrow. */
  priority: 1 | 2 | 3 | 4;
  /** Shown until somebody chooses otherwise. */
  shown: boolean;
  best: 'high' | 'low';
  value(row: RobotRow): number | undefined;
  text(row: RobotRow): string;
  /** The interval, told on demand: a dense table has no room for it. */
  quiet?(row: RobotRow): string;
  warn?(row: RobotRow): boolean;
  /** Drawn below the figure, on one scale for all rows of the column. */
  drawn?(row: RobotRow): Drawn | undefined;
  /** Values in order of time, drawn as a line. */
  line?(row: RobotRow): readonly number[] | undefined;
}

/** A spread as a cell draws it. */
export const drawnOf = (mean: number, sd: number): Drawn => ({
  mean,
  half: [mean - halfWidth[50] * sd, mean + halfWidth[50] * sd],
  wide: [mean - halfWidth[95] * sd, mean + halfWidth[95] * sd]
});

/** The figure that a view is about. `working` has no spread of its own. */
export function figure(row: RobotRow, view: View): { mean: number; sd?: number } | undefined {
  const e = row.estimate;
  if (!e) return undefined;
  if (view === 'now') return { mean: e.now, sd: e.now_sd };
  if (view === 'points') return { mean: e.points, sd: e.sd };
  return { mean: e.working };
}

/** All spreads of a view, for the scale that its rows share. */
export function spreadsOf(rows: readonly RobotRow[], view: View): Spread[] {
  const out: Spread[] = [];
  for (const row of rows) {
    const f = figure(row, view);
    if (f) out.push({ mean: f.mean, sd: f.sd ?? 0 });
  }
  return out;
}

/** How many action columns a table starts with. */
const startColumns = 4;

/** The actions that bring robots the most points on average: they start as columns. */
function weightiest(figures: readonly ActionFigure[], rows: readonly RobotRow[]): Set<string> {
  const weight = new Map<string, number>();
  for (const f of figures) {
    const sum = rows.reduce((total, row) => total + (row.estimate?.actions[f.key]?.mean ?? 0), 0);
    weight.set(f.key, Math.abs(sum * f.points));
  }
  const sorted = [...figures].sort((a, b) => (weight.get(b.key) ?? 0) - (weight.get(a.key) ?? 0));
  return new Set(sorted.slice(0, startColumns).map((f) => f.key));
}

export const leastSquaresMeaning =
  'Least squares: one unknown a robot, solved from what the venue publishes alone; ' +
  'the score holds the points that opponents gave away by fouls. Of the defence figure less is better. ' +
  'It is plain arithmetic without an interval; while the schedule does not settle a robot it says so.';

export const notDetermined = 'not determined yet';

/**
 * What a robot adds by the actions of a period, in points. The spread adds up as
 * if the actions were independent of each other; undefined: none is known.
 */
export function periodFigure(game: Game, row: RobotRow, period: string): Spread | undefined {
  let mean = 0;
  let variance = 0;
  let known = false;
  for (const f of actionFigures(game)) {
    const a = row.estimate?.actions[f.key];
    if (f.period !== period || f.points === 0 || !a) continue;
    mean += a.mean * f.points;
    variance += (a.sd * f.points) ** 2;
    known = true;
  }
  return known ? { mean, sd: Math.sqrt(variance) } : undefined;
}

/** From this many matches on a trend is told. Our choice: fewer allow no useful interval. */
export const enoughForTrend = 5;

function figureColumns(): Column[] {
  return views.map((v) => ({
    id: `figure:${v.id}`,
    label: v.name,
    group: 'Points a match' as const,
    help: v.means,
    priority: 3 as const,
    shown: false,
    best: 'high' as const,
    value: (row) => figure(row, v.id)?.mean,
    text: (row) => fixed(figure(row, v.id)?.mean),
    quiet: (row) => plusMinus(figure(row, v.id)?.sd),
    drawn: (row) => {
      const f = figure(row, v.id);
      return f && (f.sd === undefined ? { mean: f.mean } : drawnOf(f.mean, f.sd));
    }
  }));
}

function periodColumns(game: Game): Column[] {
  const figures = actionFigures(game).filter((f) => f.points !== 0);
  return game.periods
    .filter((p) => figures.some((f) => f.period === p.id))
    .map((p) => ({
      id: `period:${p.id}`,
      label: nameOf(p),
      under: 'points',
      group: 'By period' as const,
      help: `points a match by its actions of this period; caps of the alliance are not taken off`,
      priority: 2 as const,
      shown: true,
      best: 'high' as const,
      value: (row) => periodFigure(game, row, p.id)?.mean,
      text: (row) => fixed(periodFigure(game, row, p.id)?.mean),
      quiet: (row) => plusMinus(periodFigure(game, row, p.id)?.sd),
      drawn: (row) => {
        const f = periodFigure(game, row, p.id);
        return f && drawnOf(f.mean, f.sd);
      }
    }));
}

function accuracyColumns(game: Game): Column[] {
  return game.actions
    .filter((a) => a.by !== 'alliance' && a.misses)
    .map((a) => {
      const { name, period } = distinctName(game, a);
      const of = (row: RobotRow) => row.estimate?.actions[a.id]?.accuracy;
      return {
        id: `accuracy:${a.id}`,
        label: name,
        under: period ? `${period}, counts` : 'counts',
        group: 'Share that counts' as const,
        help: `share of tries that count, ${name}${period ? ` (${period})` : ''}; the interval allows for good and bad matches`,
        priority: 3 as const,
        shown: false,
        best: 'high' as const,
        value: (row: RobotRow) => of(row)?.share,
        text: (row: RobotRow) => percent(of(row)?.share),
        quiet: (row: RobotRow) => {
          const f = of(row);
          return f ? `${percent(f.low)} to ${percent(f.high)}, ${f.tries} tries` : '';
        },
        drawn: (row: RobotRow) => {
          const f = of(row);
          return f && { mean: f.share, half: [f.low, f.high] as [number, number] };
        }
      };
    });
}

/** "+0.8", with what may be said of it. */
export function trendText(s: Summary | undefined): { text: string; words: string; sure: boolean } {
  const t = s?.trend;
  if (!t || t.n < enoughForTrend || !t.range) {
    return { text: 'too few', words: `fewer than ${enoughForTrend} matches watched in full`, sure: false };
  }
  const sure = t.range[0] > 0 || t.range[1] < 0;
  const range = `${signed(t.range[0])} to ${signed(t.range[1])}`;
  return { text: signed(t.value), words: sure ? range : `no clear trend, ${range}`, sure };
}

function seenColumns(): Column[] {
  return [
    {
      id: 'trend',
      label: 'Trend',
      under: 'a match',
      group: 'Seen',
      help: 'change of the points that scouts saw, from match to match; drawn are the matches. Grey: no clear trend',
      priority: 2,
      shown: true,
      best: 'high',
      value: (row) => (trendText(row.seen).text === 'too few' ? undefined : row.seen?.trend?.value),
      text: (row) => (row.seen ? trendText(row.seen).text : ''),
      quiet: (row) => (row.seen ? trendText(row.seen).words : ''),
      line: (row) => row.seen?.points.map((p) => p.value)
    },
    {
      id: 'stops',
      label: 'Stops',
      group: 'Seen',
      help: 'share of its matches in which it stood still for 20 s or more, or did not show',
      priority: 2,
      shown: true,
      best: 'low',
      value: (row) => (row.estimate && row.estimate.watched > 0 ? row.estimate.stops : undefined),
      text: (row) => percent(row.estimate && row.estimate.watched > 0 ? row.estimate.stops : undefined),
      warn: (row) => (row.estimate?.watched ?? 0) > 0 && (row.estimate?.stops ?? 0) > 0.1
    },
    {
      id: 'seen',
      label: 'Watched',
      group: 'Seen',
      help: 'matches with at least one record, of those it played',
      priority: 2,
      shown: true,
      best: 'high',
      value: (row) => row.estimate?.watched,
      text: (row) => (row.estimate ? `${row.estimate.watched} of ${row.estimate.matches}` : ''),
      warn: (row) => tooLittle(row)
    },
    {
      id: 'gap',
      label: 'Seconds',
      under: 'between scores',
      group: 'Seen',
      help: 'median seconds from one trip to the next; scores within 2 s are one trip, stopped and defending time is taken off',
      priority: 4,
      shown: false,
      best: 'low',
      value: (row) => row.seen?.gap?.value,
      text: (row) => fixed(row.seen?.gap?.value),
      quiet: (row) => {
        const g = row.seen?.gap;
        return g?.range ? `${fixed(g.range[0])} to ${fixed(g.range[1])} s, ${g.n} times` : '';
      },
      drawn: (row) => {
        const g = row.seen?.gap;
        return g && { mean: g.value, half: g.range };
      }
    },
    {
      id: 'fouls',
      label: 'Fouls',
      under: 'points given',
      group: 'Seen',
      help: 'points a match that opponents get by its fouls, as scouts saw them',
      priority: 4,
      shown: false,
      best: 'low',
      value: (row) => row.seen?.fouls,
      text: (row) => fixed(row.seen?.fouls)
    }
  ];
}

function squaresColumns(game: Game, rows: readonly RobotRow[]): Column[] {
  const squares = (
    id: string,
    label: string,
    under: string | undefined,
    help: string,
    best: 'high' | 'low',
    value: (row: RobotRow) => number | undefined,
    write: (v: number) => string = fixed
  ): Column => ({
    id: `ls:${id}`,
    label,
    under,
    group: 'Least squares',
    help,
    priority: 4,
    shown: false,
    best,
    value,
    text: (row) => {
      const v = value(row);
      return v === undefined ? (row.estimate ? notDetermined : '') : write(v);
    }
  });
  const of = (key: 'offence' | 'defence' | 'margin') => (row: RobotRow) =>
    row.estimate?.least_squares[key] ?? undefined;
  const share = 'offensive power rating: its share of the own alliance’s score';
  const allowed = 'defensive power rating: its share of the score allowed; less is better';
  const margin = 'calculated contribution to winning margin: offence less defence';
  return [
    squares('offence', 'Offence', 'OPR', share, 'high', of('offence')),
    squares('defence', 'Defence', 'DPR', allowed, 'low', of('defence')),
    squares('margin', 'Margin', 'CCWM', margin, 'high', of('margin'), signed),
    ...(game.components ?? [])
      .filter((c) => rows.some((r) => r.components?.has(c.id)))
      .map((c) =>
        squares(
          `component:${c.id}`,
          nameOf(c),
          c.count ? 'official count' : 'official points',
          `its share of the official ${nameOf(c).toLowerCase()} of its alliance`,
          'high',
          (row) => row.components?.get(c.id)
        )
      )
  ];
}

/** What teams say, beside what was seen: as much as they say more is what one wants to know. */
function claimColumns(game: Game): Column[] {
  return pitQuestions(game)
    .filter((q) => q.role === 'claim')
    .map((q) => {
      const claim = (row: RobotRow) => claimsOf(game, row.pit, row.estimate).find((c) => c.id === q.id);
      return {
        id: `claim:${q.id}`,
        label: q.name ?? q.id,
        under: 'says, seen',
        group: 'Claims' as const,
        help: `${q.name ?? q.id}: what its team says, and what was seen a match`,
        priority: 4 as const,
        shown: false,
        best: 'high' as const,
        value: (row) => claim(row)?.says,
        text: (row) => {
          const c = claim(row);
          if (!c) return '';
          const says = fixed(c.says, Number.isInteger(c.says) ? 0 : 1);
          return c.seen ? `${says}, ${fixed(c.seen.mean)}` : `${says}, –`;
        },
        // Says more than twice the standard deviation above what was seen.
        warn: (row) => {
          const c = claim(row);
          return c?.seen !== undefined && c.says > c.seen.mean + 2 * c.seen.sd;
        }
      };
    });
}

export function columnsOf(game: Game, rows: readonly RobotRow[]): Column[] {
  const figures = actionFigures(game);
  const first = weightiest(figures, rows);
  const actions: Column[] = figures.map((f) => ({
    id: `action:${f.key}`,
    label: f.label,
    under: f.under,
    group: 'Actions' as const,
    help: f.help,
    priority: first.has(f.key) ? 3 : 4,
    shown: first.has(f.key),
    best: f.points < 0 ? ('low' as const) : ('high' as const),
    value: (row) => row.estimate?.actions[f.key]?.mean,
    text: (row) => {
      const mean = row.estimate?.actions[f.key]?.mean;
      return f.share ? percent(mean) : fixed(mean);
    },
    quiet: (row) => {
      const sd = row.estimate?.actions[f.key]?.sd;
      return f.share || sd === undefined ? '' : plusMinus(sd);
    },
    drawn: (row) => {
      const a = row.estimate?.actions[f.key];
      return a && drawnOf(a.mean, a.sd);
    }
  }));
  return [
    ...periodColumns(game),
    ...actions,
    ...seenColumns(),
    ...figureColumns(),
    ...accuracyColumns(game),
    ...squaresColumns(game, rows),
    ...claimColumns(game)
  ];
}

/** The scale of a drawn column, the same for all rows: from 0 to the reach of the best. */
export function columnScale(column: Column, rows: readonly RobotRow[]): (v: number) => number {
  let low = 0;
  let high = 0;
  // One robot of which nothing is known must not squeeze the others: its mean counts, its reach only so far.
  const all = rows.map((r) => column.drawn?.(r)).filter((d) => d !== undefined);
  const widths = all.map((d) => (d.wide ?? d.half ?? [0, 0])[1] - d.mean).sort((a, b) => a - b);
  const usual = 2.5 * (widths[widths.length >> 1] ?? 0);
  for (const d of all) {
    const outer = d.wide ?? d.half ?? [d.mean, d.mean];
    low = Math.min(low, d.mean);
    high = Math.max(high, d.mean, Math.min(outer[1], d.mean + usual));
  }
  return (v) => (high > low ? (v - low) / (high - low) : 0);
}

/** Fewer than two matches played, or none watched: the interval is all there is to say. */
export function tooLittle(row: RobotRow): boolean {
  const e = row.estimate;
  return !e || e.matches < 2 || e.watched === 0;
}

/** Room that a column needs, in pixels, at the table's type size. */
function widthOf(c: Column): number {
  const words = [c.label, c.under ?? ''].flatMap((t) => t.split(' '));
  const head = Math.max(...words.map((t) => t.length)) * 6.6 + 27;
  const cell = c.group === 'Least squares' ? 104 : c.drawn || c.line ? 84 : 70;
  return Math.max(head, cell);
}

/**
 * The columns that fit beside `taken` pixels. Those that somebody chose stand in
 * the order that was chosen, and the last ones are left out; else the less
 * important ones are left out.
 */
export function fitColumns(
  columns: readonly Column[],
  chosen: readonly string[] | undefined,
  width: number,
  taken: number
): { shown: Column[]; left: number } {
  const wanted = wantedColumns(columns, chosen);
  const order = chosen ? wanted : [...wanted].sort((a, b) => a.priority - b.priority);
  const fits = new Set<string>();
  let used = taken;
  for (const c of order) {
    used += widthOf(c);
    if (used > width) break;
    fits.add(c.id);
  }
  return { shown: wanted.filter((c) => fits.has(c.id)), left: wanted.length - fits.size };
}

/** The columns that are wanted, in their order. */
export function wantedColumns(columns: readonly Column[], chosen: readonly string[] | undefined): Column[] {
  if (!chosen) return columns.filter((c) => c.shown);
  return chosen.flatMap((id) => columns.find((c) => c.id === id) ?? []);
}

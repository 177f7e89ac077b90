// How forecasts fared, in words and rows.

import type { Bin, Calibration, LeadTime, PlayedForecast, Trust } from '$lib/api';
import { counted, fixed, percent } from '$lib/figures';

/** Fewer forecasts than this tell too little; the server says so by its level of trust. */
const wanted = 20;

/** The first line: how far to trust the forecast today. */
export function trustSentence(t: Trust): string {
  const right = Math.round(t.correct * t.matches);
  const of = `${right} of ${t.matches} forecasts were on the right side`;
  switch (t.level) {
    case 'too_little':
      return t.matches === 0
        ? `Too little data: no played match has been forecast yet, and it takes ${wanted} to judge.`
        : `Too little data: ${counted(t.matches, 'played match was', 'played matches were')} forecast so far, and it takes ${wanted} to judge.`;
    case 'none':
      return `Do not lean on the forecast yet: ${of}, which a coin might have done as well.`;
    case 'some':
      return `Trust the forecast to a degree: ${of}, and it is better than a coin.`;
    default:
      return `The forecast can be trusted so far: ${of}, and its intervals hold what they promise.`;
  }
}

/** What stands behind the sentence. */
export function trustReason(t: Trust): string {
  if (t.matches === 0) return '';
  const than =
    t.least_squares < t.skill - 0.02
      ? ', more than plain least squares'
      : t.least_squares > t.skill + 0.02
        ? ', less than plain least squares'
        : ', about as much as plain least squares';
  const saved =
    t.skill > 0
      ? `It leaves out ${percent(t.skill)} of the error of a coin (by the matches so far surely ${percent(Math.max(0, t.least))} or more)${than} (${percent(Math.max(0, t.least_squares))}).`
      : `So far it errs no less than a coin would.`;
  return `${saved} ${percent(t.coverage80)} of the scores fell into their 80 % intervals.`;
}

export const fused = 'fused';
export const leastSquares = 'least_squares';

export const estimatorName = (id: string): string => (id === leastSquares ? 'Least squares' : 'Ours');

/** "just before", "5 matches ahead". */
export const aheadName = (n: number): string =>
  n === 0 ? 'just before' : `${counted(n, 'match', 'matches')} ahead`;

/** The rows of one estimator by lead time. */
export const rowsOf = (c: Calibration, estimator: string): LeadTime[] =>
  c.rows.filter((r) => r.estimator === estimator).sort((a, b) => a.ahead - b.ahead);

/** The forecasts made just before each match. */
export const nearest = (c: Calibration): LeadTime | undefined => rowsOf(c, fused)[0];

/** How many bins lie outside the bars that hold nine in ten if the chances are right. */
export function outside(bins: readonly Bin[]): Bin[] {
  return bins.filter((b) => b.won < b.low - 1e-9 || b.won > b.high + 1e-9);
}

export function reliabilityWords(bins: readonly Bin[]): string {
  if (bins.length === 0) return 'No forecast yet.';
  const off = outside(bins);
  if (off.length === 0) {
    return 'Within what luck allows everywhere: where the forecast said a chance, it came about that often.';
  }
  const said = off
    .map((b) => `said ${percent(b.chance)}, came ${percent(b.won)} of ${counted(b.count, 'time')}`)
    .join('; ');
  return `Outside of what luck usually allows in ${off.length} of ${bins.length} groups: ${said}.`;
}

/** How often scores should have fallen into their intervals, and did. */
export function coverageRows(l: LeadTime): { promised: number; held: number; off: boolean }[] {
  const n = 2 * l.summary.forecast;
  return [
    { promised: 0.5, held: l.summary.coverage50 },
    { promised: 0.8, held: l.summary.coverage80 },
    { promised: 0.95, held: l.summary.coverage95 }
  ].map((r) => ({
    ...r,
    // Two standard errors of a share; the two scores of a match count as two.
    off: n > 0 && Math.abs(r.held - r.promised) > 2 * Math.sqrt((r.promised * (1 - r.promised)) / n)
  }));
}

/** What came of each forecast, the last first. */
export function pastRows(forecasts: readonly PlayedForecast[]): {
  match: string;
  said: string;
  came: string;
  right: boolean | undefined;
}[] {
  return [...forecasts].reverse().map((f) => {
    const p = f.chance.red + f.chance.tie / 2;
    const d = f.red_score - f.blue_score;
    const side = p >= 0.5 ? 'red' : 'blue';
    return {
      match: f.match,
      said: `${side} ${percent(side === 'red' ? f.chance.red : f.chance.blue)}`,
      came: `${fixed(f.red_score, 0)} to ${fixed(f.blue_score, 0)}`,
      right: d === 0 || p === 0.5 ? undefined : d > 0 === p > 0.5
    };
  });
}

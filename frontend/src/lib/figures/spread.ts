// Intervals of a normal distribution and the shared scale they are drawn on.

/** What is known of a quantity: its mean and standard deviation. */
export interface Spread {
  mean: number;
  sd: number;
}

/**
 * Half-widths of central intervals in standard deviations: the normal quantiles
 * at 0.75, 0.90 and 0.975 (NIST/SEMATECH e-Handbook of Statistical Methods,
 * 1.3.6.7.1, gives 0.674, 1.282, 1.960).
 */
export const halfWidth = { 50: 0.6744897501960817, 80: 1.2815515655446004, 95: 1.959963984540054 };

export type Level = keyof typeof halfWidth;

export function interval(s: Spread, level: Level): [number, number] {
  const half = halfWidth[level] * s.sd;
  return [s.mean - half, s.mean + half];
}

/** "± 4.0": the half-width of the 80 % interval. */
export function plusMinus(sd: number | null | undefined, digits = 1): string {
  if (sd === null || sd === undefined || !Number.isFinite(sd)) return '';
  return `± ${(halfWidth[80] * sd).toFixed(digits)}`;
}

/**
 * The standard normal distribution function, by Abramowitz and Stegun (1964),
 * formula 7.1.26 for erf; absolute error below 1.5e-7.
 */
export function normalCdf(z: number): number {
  const x = Math.abs(z) / Math.SQRT2;
  const t = 1 / (1 + 0.3275911 * x);
  const poly =
    t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))));
  const erf = 1 - poly * Math.exp(-x * x);
  return z >= 0 ? (1 + erf) / 2 : (1 - erf) / 2;
}

/** A scale from values to 0 … 1, with round ticks. */
export interface Scale {
  low: number;
  high: number;
  ticks: number[];
  /** Place of a value on the scale, 0 … 1, clipped to it. */
  at(value: number): number;
}

/** Steps of 1, 2 or 5 times a power of ten, about `wanted` of them. */
export function tickStep(span: number, wanted: number): number {
  if (!(span > 0) || !Number.isFinite(span)) return 1;
  const raw = span / wanted;
  const power = 10 ** Math.floor(Math.log10(raw));
  const rest = raw / power;
  return (rest > 5 ? 10 : rest > 2 ? 5 : rest > 1 ? 2 : 1) * power;
}

/** A scale from low to high as they are, with the round values between them as ticks. */
export function scaleOf(low: number, high: number, wanted = 5): Scale {
  const to = high > low ? high : low + 1;
  const step = tickStep(to - low, wanted);
  const ticks: number[] = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= to + step * 1e-9; k++) {
    ticks.push(Number((k * step).toPrecision(12)));
  }
  return { low, high: to, ticks, at: (value) => Math.min(1, Math.max(0, (value - low) / (to - low))) };
}

/**
 * One scale for many spreads: wide enough for each mean and for the 95 %
 * intervals of all that are not far wider than usual, so that one robot of which
 * nothing is known does not squeeze the others.
 */
export function sharedScale(spreads: readonly Spread[], wanted = 5): Scale {
  const known = spreads.filter((s) => Number.isFinite(s.mean) && Number.isFinite(s.sd));
  if (known.length === 0) return scaleOf(0, 1, wanted);
  const median = [...known].sort((a, b) => a.sd - b.sd)[known.length >> 1]?.sd ?? 0;
  const wide = known.filter((s) => s.sd <= 2.5 * median);
  const means = known.map((s) => s.mean);
  const low = Math.min(0, ...means, ...wide.map((s) => interval(s, 95)[0]));
  const high = Math.max(...means, ...wide.map((s) => interval(s, 95)[1]));
  const pad = (high - low) * 0.03;
  return scaleOf(low < 0 ? low - pad : low, high + pad, wanted);
}

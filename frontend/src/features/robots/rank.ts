// Intervals that take no shape of the values for granted: they rest on ranks
// alone, so one odd match moves them little. All are 80 % intervals, as
// everywhere in the app; where so few values allow none, there is none.

export interface Ranked {
  value: number;
  /** Both ends, where an interval of that confidence exists. */
  range?: [number, number];
  n: number;
}

const confidence = 0.8;

const ascending = (values: readonly number[]) => [...values].sort((a, b) => a - b);

function middle(sorted: readonly number[]): number {
  const n = sorted.length;
  return ((sorted[(n - 1) >> 1] ?? NaN) + (sorted[n >> 1] ?? NaN)) / 2;
}

/**
 * The interval between the k-th smallest and the k-th largest value, k as large
 * as the confidence allows. `counts[j]` is the number of equally likely ways in
 * which j of the values lie below the true one; it is symmetrical.
 */
function between(sorted: readonly number[], counts: readonly number[]): [number, number] | undefined {
  const total = counts.reduce((a, b) => a + b, 0);
  let below = 0;
  let k = 0;
  while (k < counts.length && 2 * (below + counts[k]!) <= (1 - confidence) * total * (1 + 1e-12)) {
    below += counts[k]!;
    k++;
  }
  const low = sorted[k - 1];
  const high = sorted[sorted.length - k];
  return k > 0 && low !== undefined && high !== undefined ? [low, high] : undefined;
}

/** Multiplies a polynomial by 1 + x + … + x^n. */
function timesRun(p: readonly number[], n: number): number[] {
  const out = new Array<number>(p.length + n).fill(0);
  p.forEach((c, i) => {
    for (let j = 0; j <= n; j++) out[i + j]! += c;
  });
  return out;
}

/**
 * The median, and the interval between two order statistics that covers it
 * whatever the distribution (Thompson 1936, Annals of Mathematical Statistics
 * 7:122-128; cited from memory): each value lies below the median with chance ½.
 */
export function medianInterval(values: readonly number[]): Ranked | undefined {
  if (values.length === 0) return undefined;
  const sorted = ascending(values);
  let ways = [1];
  for (const _ of sorted) ways = timesRun(ways, 1);
  return { value: middle(sorted), range: between(sorted, ways), n: values.length };
}

/**
 * How much a value changes from one to the next: the median of the slopes
 * between all pairs, with the interval of Sen (1968, Journal of the American
 * Statistical Association 63:1379-1389; cited from memory), which turns round
 * Kendall's test. `at` are the places in time, all different.
 */
export function trend(points: readonly { at: number; value: number }[]): Ranked | undefined {
  const slopes: number[] = [];
  points.forEach((p, i) => {
    for (const q of points.slice(i + 1)) slopes.push((q.value - p.value) / (q.at - p.at));
  });
  if (slopes.length === 0) return undefined;
  // Ways to order n values by their number of inversions.
  let ways = [1];
  for (let n = 1; n < points.length; n++) ways = timesRun(ways, n);
  const sorted = ascending(slopes);
  return { value: middle(sorted), range: between(sorted, ways), n: points.length };
}

/**
 * By how much the values of `a` lie above those of `b`: the median of all
 * differences (Hodges and Lehmann 1963, Annals of Mathematical Statistics
 * 34:598-611; cited from memory) with the interval that turns round the
 * Wilcoxon-Mann-Whitney test.
 */
export function shift(a: readonly number[], b: readonly number[]): Ranked | undefined {
  if (a.length === 0 || b.length === 0) return undefined;
  const sorted = ascending(a.flatMap((x) => b.map((y) => x - y)));
  return {
    value: middle(sorted),
    range: between(sorted, rankSums(a.length, b.length)),
    n: a.length + b.length
  };
}

/** Ways to choose which of m + n ranks are the first group's, by its Mann-Whitney count. */
function rankSums(m: number, n: number): number[] {
  // ways[i][u]: i values of the first group placed, u pairs counted.
  const ways = Array.from({ length: m + 1 }, () => new Array<number>(m * n + 1).fill(0));
  ways[0]![0] = 1;
  for (let rank = 0; rank < m + n; rank++) {
    for (let i = Math.min(rank, m - 1); i >= 0; i--) {
      const others = rank - i; // values of the second group below this rank
      if (others > n) continue;
      for (let u = 0; u + others <= m * n; u++) ways[i + 1]![u + others]! += ways[i]![u]!;
    }
  }
  return ways[m]!;
}

/** Half-width of a central 80 % interval of the normal distribution; see figures/spread.ts. */
const z = 1.2815515655446004;

/** k of n as a share with its score interval (Wilson 1927, Journal of the American Statistical Association 22:209-212). */
export function shareInterval(k: number, n: number): Ranked | undefined {
  if (n <= 0) return undefined;
  const p = k / n;
  const centre = (p + (z * z) / (2 * n)) / (1 + (z * z) / n);
  const half = (z / (1 + (z * z) / n)) * Math.sqrt((p * (1 - p)) / n + (z * z) / (4 * n * n));
  return { value: p, range: [Math.max(0, centre - half), Math.min(1, centre + half)], n };
}

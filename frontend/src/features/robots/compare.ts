// Two to four robots beside each other.

import { fixed, likelihood, percent, type Spread } from '$lib/figures';
import { better, type Together } from '$lib/state/lists';
import { figure, groups, type Column, type Group, type RobotRow, type View } from './columns';

export const mostCompared = 4;

/** How lines are told apart without colour, as stroke-dasharray. */
export const dashes = ['none', '7 4', '2 3', '10 3 2 3'] as const;

/** The teams of an address, known ones only, each once. */
export function readTeams(text: string | null, rows: readonly RobotRow[]): RobotRow[] {
  const wanted = [...new Set((text ?? '').split(','))];
  return wanted.flatMap((team) => rows.find((r) => r.team === team) ?? []).slice(0, mostCompared);
}

/** The spread of a view; undefined where it has none. */
export function spreadOf(row: RobotRow, view: View): Spread | undefined {
  const f = figure(row, view);
  return f?.sd === undefined || f.sd <= 0 ? undefined : { mean: f.mean, sd: f.sd };
}

/** The normal density of a spread at even steps over a range. */
export function density(s: Spread, [low, high]: [number, number], steps = 120): { x: number; y: number }[] {
  return Array.from({ length: steps + 1 }, (_, i) => {
    const x = low + ((high - low) * i) / steps;
    return { x, y: Math.exp(-0.5 * ((x - s.mean) / s.sd) ** 2) / (s.sd * Math.sqrt(2 * Math.PI)) };
  });
}

/** A range that holds all of the given spreads to three and a half standard deviations. */
export function rangeOf(spreads: readonly Spread[]): [number, number] {
  return [
    Math.min(0, ...spreads.map((s) => s.mean - 3.5 * s.sd)),
    Math.max(1, ...spreads.map((s) => s.mean + 3.5 * s.sd))
  ];
}

/** The first line: who is ahead in the next match, and how sure that is. */
export function compareSentence(rows: readonly RobotRow[], together: Together): string {
  const known = rows
    .flatMap((row) => {
      const { estimate } = row;
      return estimate && spreadOf(row, 'now') ? [{ row, estimate }] : [];
    })
    .sort((a, b) => b.estimate.now - a.estimate.now);
  const [first, second] = known;
  if (!first || !second) return 'Too little data to compare them yet.';
  const p = better(second.estimate, first.estimate, together);
  if (p <= 0.66) {
    return `${first.row.team} and ${second.row.team} are too close to call: ${percent(p)} for ${first.row.team} to be the stronger.`;
  }
  return `${first.row.team} is ${likelihood(p)} to be stronger than ${second.row.team} next: ${percent(p)}.`;
}

/** Columns by group, as rows of the comparison; those of which nothing is known of anyone are left out. */
export function comparedColumns(
  columns: readonly Column[],
  rows: readonly RobotRow[]
): { group: Group; columns: Column[] }[] {
  return groups
    .map((group) => ({
      group,
      columns: columns.filter(
        (c) =>
          c.group === group && rows.some((r) => c.value(r) !== undefined || (group === 'Seen' && c.text(r)))
      )
    }))
    .filter((g) => g.columns.length > 0);
}

/** Points seen of a robot in words: "31, 44 and 28" is told by the picture; this is its text. */
export function seenWords(row: RobotRow): string {
  const p = row.seen?.points ?? [];
  if (p.length === 0) return `${row.team}: no match watched in full`;
  const values = p.map((x) => x.value);
  return `${row.team}: ${p.length} matches, ${fixed(Math.min(...values), 0)} to ${fixed(Math.max(...values), 0)}`;
}

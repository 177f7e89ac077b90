// Plain least squares on what the venue publishes: one unknown a robot, their
// sum over an alliance is its figure. The server does it for the score; here it
// is done for each official component, from the results on this device.

import type { Match } from '$lib/api';
import { compareTeams } from '$lib/figures';
import { isPlayed, lastPlays } from '$lib/state/matches';

/**
 * The least-squares solution of sums: rows are sets of unknowns with their sum.
 * Undefined where the rows do not determine an unknown.
 */
export function solveSums(
  rows: readonly { of: readonly string[]; sum: number }[]
): Map<string, number | undefined> {
  const names = [...new Set(rows.flatMap((r) => r.of))].sort(compareTeams);
  const n = names.length;
  const at = new Map(names.map((name, i) => [name, i]));
  // The normal equations; whole numbers, so that rounding stays far below the tolerance.
  const a = names.map(() => new Array<number>(n + 1).fill(0));
  for (const r of rows) {
    for (const x of r.of) {
      const row = a[at.get(x)!]!;
      for (const y of r.of) row[at.get(y)!]! += 1;
      row[n]! += r.sum;
    }
  }
  // To reduced row echelon form. An unknown is determined if it has a pivot and
  // its row holds no other unknown: its unit vector lies in the row space.
  const pivots: number[] = [];
  for (let col = 0; col < n && pivots.length < n; col++) {
    const top = pivots.length;
    let best = top;
    for (let i = top; i < n; i++) if (Math.abs(a[i]![col]!) > Math.abs(a[best]![col]!)) best = i;
    const p = a[best]![col]!;
    if (Math.abs(p) < 1e-9) continue;
    [a[top], a[best]] = [a[best]!, a[top]!];
    const row = a[top]!.map((v) => v / p);
    a[top] = row;
    for (let i = 0; i < n; i++) {
      const f = a[i]![col]!;
      if (i === top || f === 0) continue;
      a[i] = a[i]!.map((v, j) => v - f * row[j]!);
    }
    pivots.push(col);
  }
  const out = new Map<string, number | undefined>(names.map((name) => [name, undefined]));
  pivots.forEach((col, i) => {
    const row = a[i]!;
    const alone = row.every((v, j) => j === col || j === n || Math.abs(v) < 1e-7);
    if (alone) out.set(names[col]!, row[n]);
  });
  return out;
}

/** Of each official component what least squares says of each robot; every robot of the schedule counts, as the server has it for the score. */
export function componentSquares(
  matches: readonly Match[],
  components: readonly string[]
): Map<string, Map<string, number | undefined>> {
  const played = lastPlays(matches).filter(isPlayed);
  const out = new Map<string, Map<string, number | undefined>>();
  for (const id of components) {
    const rows = played.flatMap((m) =>
      [m.red, m.blue].flatMap((side) => {
        const sum = side.result?.components?.[id];
        return sum === undefined ? [] : [{ of: side.teams, sum }];
      })
    );
    if (rows.length > 0) out.set(id, solveSums(rows));
  }
  return out;
}

// What a list may be ordered by: any figure of the estimates, each with a weight.

import type { TeamEstimate } from '$lib/api';
import { actionFigures } from '$lib/game/actions';
import type { Game } from '$lib/game/types';

export interface Measure {
  id: string;
  name: string;
  value(e: TeamEstimate): number | undefined;
}

/** Weight by measure; one that is not there weighs nothing. */
export type Weights = Readonly<Record<string, number>>;

/** Weights go from −highestWeight to highestWeight. */
export const highestWeight = 5;

export function measuresOf(game: Game | undefined): Measure[] {
  return [
    { id: 'now', name: 'Points, next match', value: (e) => e.now },
    { id: 'points', name: 'Points, whole event', value: (e) => e.points },
    { id: 'working', name: 'Points when nothing stops it', value: (e) => e.working },
    {
      id: 'stops',
      name: 'Share of matches stopped',
      value: (e) => (e.watched > 0 ? e.stops : undefined)
    },
    ...(game ? actionFigures(game) : []).map((f) => ({
      id: `action:${f.key}`,
      name: f.under ? `${f.label}, ${f.under.toLowerCase()}` : f.label,
      value: (e: TeamEstimate) => e.actions[f.key]?.mean
    }))
  ];
}

/**
 * The weighted sum of measures, each taken from its mean over the robots and
 * divided by its standard deviation over them, so that a weight means the same
 * for points and for shares (standard scores). What is not known of a robot
 * counts as the mean; a measure in which all robots are alike counts nothing.
 */
export function weighted(
  measures: readonly Measure[],
  weights: Weights,
  estimates: readonly TeamEstimate[]
): Map<string, number> {
  const sums = new Map(estimates.map((e) => [e.team, 0]));
  for (const m of measures) {
    const weight = weights[m.id] ?? 0;
    if (weight === 0) continue;
    const known = estimates.flatMap((e) => {
      const value = m.value(e);
      return value === undefined ? [] : [{ team: e.team, value }];
    });
    const mean = known.reduce((sum, k) => sum + k.value, 0) / known.length;
    const sd = Math.sqrt(known.reduce((sum, k) => sum + (k.value - mean) ** 2, 0) / known.length);
    if (!(sd > 1e-12)) continue;
    for (const { team, value } of known) sums.set(team, sums.get(team)! + (weight * (value - mean)) / sd);
  }
  return sums;
}

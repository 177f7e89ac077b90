// How the others may choose, for a rehearsal: the law of stats/worth with its
// defaults (Plackett-Luce over half the ranking, half what to expect of the
// next match), drawn once a choice. What is pinned goes first.

import type { Pin } from '$lib/api';
import type { Board, Move } from './replay';

/** Points of utility for a standard deviation of the blend. */
const SHARPNESS = 3;
/** The chance that an invited captain accepts. */
const ACCEPT = 0.85;

function standard(values: number[]): number[] {
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  const sd = Math.sqrt(values.reduce((a, b) => a + (b - mean) ** 2, 0) / values.length);
  return values.map((v) => (sd > 0 ? (v - mean) / sd : 0));
}

/** A move of the captain on the clock. `random` gives numbers from 0 to 1. */
export function drawMove(
  board: Board,
  now: (team: string) => number | undefined,
  random: () => number,
  pins: readonly Pin[] = []
): Move | undefined {
  const turn = board.turn();
  if (!turn) return undefined;
  const { captain, round } = turn;
  const pool = board.pool();
  if (pool.length === 0) return { captain, round, answer: 'nobody_left' };
  const known = (kind: string) =>
    pins.filter((p) => p.captain === captain && p.kind === kind).map((p) => p.team);
  const agreed = known('agreed').find((t) => pool.includes(t));
  if (agreed) return { captain, round, invites: agreed, answer: 'accepts' };
  const refused = known('refused');
  const open = pool.filter((t) => !refused.includes(t));
  const wanted = known('wants').find((t) => pool.includes(t));
  const choice = wanted ? [wanted] : open.length > 0 ? open : pool;

  const rank = standard(board.ranking.map((_, i) => -i));
  const values = board.ranking.map((t) => now(t));
  const lowest = Math.min(0, ...values.filter((v) => v !== undefined));
  const estimate = standard(values.map((v) => v ?? lowest));
  let best = choice[0]!;
  let most = -Infinity;
  for (const team of choice) {
    const i = board.ranking.indexOf(team);
    const gumbel = -Math.log(-Math.log(Math.min(1 - 1e-12, Math.max(1e-12, random()))));
    const utility = SHARPNESS * (rank[i]! + estimate[i]!) * 0.5 + gumbel;
    if (utility > most) [best, most] = [team, utility];
  }
  const isCaptain = board.allianceOf(best) > 0;
  const answer = isCaptain && random() > ACCEPT ? 'declines' : 'accepts';
  return { captain, round, invites: best, answer };
}

// Rehearsals that were kept: how each ended for us, and what our calls cost. Pure.

import type { RehearsalBody } from '$lib/api';
import { Board, type Answer, type Rules } from './replay';

export type RehearsedCall = NonNullable<RehearsalBody['calls']>[number];

export interface Rehearsal {
  id: string;
  body: RehearsalBody;
  /** Who played it. */
  author: string;
  /** Our alliance as it ended, the captain first; empty: we are in none. */
  ours: string[];
  calls: RehearsedCall[];
  /** What the event was worth with our last call; undefined: nothing was worked out. */
  end: number | undefined;
  /** How much more the recommended calls were worth, summed; never below 0. */
  behind: number;
}

export function keptRehearsal(id: string, body: RehearsalBody, rules: Rules, author: string): Rehearsal {
  const calls = body.calls ?? [];
  return {
    id,
    body,
    author,
    ours: alliance(body, rules),
    calls,
    end: calls.at(-1)?.worth,
    behind: calls.reduce((sum, c) => sum + Math.max(0, c.best_worth - c.worth), 0)
  };
}

function alliance({ our, ranking, moves }: RehearsalBody, rules: Rules): string[] {
  const board = Board.start(rules, ranking);
  if (typeof board === 'string' || !our) return [];
  for (const m of moves) board.move({ ...m, answer: m.answer as Answer });
  const a = board.alliances().find((x) => [x.captain, ...x.picks, ...x.backups].includes(our));
  return a ? [a.captain, ...a.picks, ...a.backups] : [];
}

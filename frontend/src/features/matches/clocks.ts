// Tablets that watched one match, two by two: by how much their clocks differ.

import type { Match, Observation } from '$lib/api';
import { counted, fixed } from '$lib/figures';
import { align, ENOUGH, momentsOf, type Alignment } from '$lib/game/align';
import type { Observed } from '$lib/game/observed';
import type { Game } from '$lib/game/types';
import { sideOf } from '$lib/state/matches';

/** Closer than this nobody can tell: hands are not quicker. No source. */
const SAME_MS = 300;

export interface Kept {
  record_id: string;
  body: Observation;
}

/** What can be done about two clocks: the record whose times move, and by how much. */
export interface Move {
  record: Kept;
  ms: number;
  /** "Move ann’s times 4.2 s later". */
  words: string;
  reason: string;
}

export interface Pairing {
  key: string;
  words: string;
  /** First the one that is more likely: a late first tap makes times too early. */
  moves: Move[];
}

/** Every two records that could have moments in common: of one robot, or of one alliance's actions. */
export function pairings(game: Game, match: Match, records: readonly Kept[]): Pairing[] {
  const play = match.play || 1;
  const used = records.filter(
    ({ body }) => !body.discarded && !body.absent && (body.play || 1) === play && (body.taps?.length ?? 0) > 0
  );
  return used.flatMap((a, i) =>
    used.slice(i + 1).flatMap((b) => {
      if (a.body.scout === b.body.scout) return [];
      const one = a.body.team === b.body.team;
      if (one && (handedOn(a.body, b.body) || handedOn(b.body, a.body))) return [];
      const side = sideOf(match, a.body.team);
      if (!one && (side === undefined || side !== sideOf(match, b.body.team))) return [];
      const moments = (r: Kept) => momentsOf(game, r.body as Observed, !one);
      const [first, second] = [moments(a), moments(b)];
      // Robots of one alliance share moments only where the game asks for what the alliance does.
      if (!one && (first.length === 0 || second.length === 0)) return [];
      return [pairing(a, b, one ? a.body.team : `the ${side} alliance`, align(first, second))];
    })
  );
}

/** One watched until the other went on: there is nothing that both could have seen. */
const handedOn = (before: Observation, after: Observation): boolean =>
  before.to !== undefined && after.from !== undefined && before.to <= after.from;

function pairing(a: Kept, b: Kept, about: string, found: Alignment | undefined): Pairing {
  const both = `${a.body.scout} and ${b.body.scout}`;
  const of = (words: string, moves: Move[] = []) => ({
    key: `${a.record_id}/${b.record_id}`,
    words,
    moves
  });
  const shared = counted(found?.pairs ?? 0, 'moment');
  if (!found || found.pairs < ENOUGH)
    return of(`${both} share ${shared} of ${about}. It takes ${ENOUGH} to set one clock by the other.`);
  if (found.open)
    return of(`${both} share ${shared} of ${about}, but at more than one distance: the taps do not decide.`);
  const apart = `${fixed(Math.abs(found.shift) / 1000, 1)} s`;
  if (Math.abs(found.shift) < SAME_MS)
    return of(`${both}: their clocks agree within ${fixed(SAME_MS / 1000, 1)} s, by ${shared} of ${about}.`);
  const [late, early] = found.shift > 0 ? [b, a] : [a, b];
  const move = (record: Kept, by: Kept, ms: number): Move => {
    const way = ms > 0 ? 'later' : 'earlier';
    return {
      record,
      ms,
      words: `Move ${record.body.scout}’s times ${apart} ${way}`,
      reason: `times moved ${apart} ${way}, to ${by.body.scout}’s clock, by ${shared} that both saw`
    };
  };
  const ms = Math.abs(found.shift);
  return of(
    `${late.body.scout}’s clock began ${apart} after ${early.body.scout}’s, by ${shared} of ${about}.`,
    [move(late, early, ms), move(early, late, -ms)]
  );
}

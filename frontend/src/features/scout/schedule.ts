/** Which match and robot a scout takes next. */
import type { Colour, Match, SeatBody } from '$lib/api';
import { startOf } from '$lib/state/matches';
import { seatOf } from '$lib/state/rota';

export interface Place {
  alliance: Colour;
  station: number;
}

/** Where a robot stands in a match; undefined: the schedule does not say. */
export function placeOf(match: Match | undefined, team: string): Place | undefined {
  for (const alliance of ['red', 'blue'] as const) {
    const at = match?.[alliance].teams.indexOf(team) ?? -1;
    if (at >= 0) return { alliance, station: at + 1 };
  }
  return undefined;
}

/** What comes after a match where there is no schedule to say so: "Q7" → "Q8". */
export const followingMatch = (match: string): string =>
  match.replace(/\d+$/, (number) => String(Number(number) + 1));

/**
 * How long after its planned start a match is still offered: to a scout who goes on from match to
 * match, as late as events run; to one who just came, what is about to be played.
 */
const PATIENCE_MS = { goesOn: 45 * 60_000, cameNow: 6 * 60_000 };

/**
 * The match to offer: the first one after the last that was recorded here, leaving out those whose
 * planned start is so long ago that the scout must have been away. What is being played is not
 * known here: a scout's tablet has no results.
 */
export function nextMatch(matches: Match[], recorded: ReadonlySet<string>, now: Date): Match | undefined {
  const last = matches.findLastIndex((m) => recorded.has(m.match));
  const left = matches.slice(last + 1);
  const patience = last < 0 ? PATIENCE_MS.cameNow : PATIENCE_MS.goesOn;
  const soon = left.find((m) => {
    const start = startOf(m);
    return !start || now.getTime() - start.getTime() < patience;
  });
  return soon ?? left[0] ?? matches.at(-1);
}

/** The next match that the rota sends this scout to; undefined: to none that is not recorded. */
export function nextSent(
  matches: Match[],
  seats: readonly SeatBody[],
  scout: string | undefined,
  recorded: ReadonlySet<string>,
  now: Date
): Match | undefined {
  const sent = matches.filter((m) => seatOf(seats, m.match, scout));
  const next = nextMatch(sent, recorded, now);
  return next && !recorded.has(next.match) ? next : undefined;
}

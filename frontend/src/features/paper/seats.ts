/** Which robots stand on the sheets of paper. */
import type { Match } from '$lib/api';
import { lastPlays } from '$lib/state/matches';

export interface Seat {
  match: string;
  team: string;
  side: 'red' | 'blue';
  station: number;
}

/** One place in the stands: a side and a station, watched match after match. */
export interface Place {
  side: 'red' | 'blue';
  station: number;
}

export const PER_PAGE = 4;

/** All places of a match, as the schedule has them. */
export function placesOf(matches: readonly Match[]): Place[] {
  const most = (side: 'red' | 'blue') => Math.max(0, ...matches.map((m) => m[side].teams.length));
  return (['red', 'blue'] as const).flatMap((side) =>
    Array.from({ length: most(side) }, (_, i) => ({ side, station: i + 1 }))
  );
}

/** Pages for one place from a match on: four robots a page, the last page filled up with empty columns. */
export function pagesFor(
  matches: readonly Match[],
  place: Place,
  from: string,
  pages: number
): (Seat | undefined)[][] {
  const all = lastPlays(matches);
  const first = all.findIndex((m) => m.match === from);
  const seats = all.slice(Math.max(0, first)).flatMap((m): Seat[] => {
    const team = m[place.side].teams[place.station - 1];
    return team ? [{ match: m.match, team, ...place }] : [];
  });
  return Array.from({ length: pages }, (_, p) =>
    Array.from({ length: PER_PAGE }, (_, i) => seats[p * PER_PAGE + i])
  ).filter((page, p) => p === 0 || page.some(Boolean));
}

export const blank = (pages: number): undefined[][] =>
  Array.from({ length: pages }, () => Array.from({ length: PER_PAGE }, () => undefined));

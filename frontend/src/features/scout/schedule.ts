/** Which match and robot a scout takes next. */
import type { Colour, Match } from '$lib/api';

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

/** The last play of each match, in playing order: the one that is watched now. */
export function lastPlays(matches: Match[]): Match[] {
  const last = new Map<string, Match>();
  for (const m of matches) last.set(m.match, m);
  return [...last.values()];
}

/** The match to offer: the one after the last that was recorded here, else the first. */
export function nextMatch(matches: Match[], recorded: ReadonlySet<string>): Match | undefined {
  const at = matches.findLastIndex((m) => recorded.has(m.match));
  return matches[at + 1] ?? matches.at(-1);
}

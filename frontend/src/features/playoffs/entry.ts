// What is set before a playoff match: who plays, who sits out and why, time-outs,
// a backup robot. Kept per match, beside the result.

import type { Alliance, BracketSeries, Colour, Match, PlayoffBody } from '$lib/api';
import { counted } from '$lib/figures';
import { colours } from './bracket';

export interface SideEntry {
  /** Who of the alliance plays, in the order of the alliance. */
  plays: string[];
  /** Why the others do not, by team. */
  why: Record<string, string>;
  /** A robot from outside of the alliance in the place of one of its own; empty: none. */
  backup: string;
  timeOut: boolean;
}

export type Entry = Record<Colour, SideEntry> & { note: string };

/** What stands for a series: as it was saved, else who is suggested, else the first robots of each alliance. */
export function entryOf(
  members: Record<Colour, readonly string[]>,
  robots: number,
  match: Match | undefined,
  kept: PlayoffBody | undefined,
  suggested: Partial<Record<Colour, string[] | undefined>> = {}
): Entry {
  const side = (c: Colour): SideEntry => {
    const planned = match?.[c].teams ?? [];
    const own = members[c];
    const here = planned.length > 0 ? planned : (suggested[c] ?? own.slice(0, robots));
    const plays = own.filter((t) => here.includes(t));
    const outside = planned.find((t) => !own.includes(t));
    return {
      plays,
      why: Object.fromEntries((kept?.[c].sat_out ?? []).map((s) => [s.team, s.why ?? ''])),
      backup: kept?.[c].backup ?? outside ?? '',
      timeOut: kept?.[c].time_out ?? false
    };
  };
  return { red: side('red'), blue: side('blue'), note: kept?.note ?? '' };
}

/** Who stands on the field of one side. */
export const lineUp = (s: SideEntry): string[] => [...s.plays, ...(s.backup.trim() ? [s.backup.trim()] : [])];

/** What must be mended; empty: nothing. */
export function problemOf(entry: Entry, robots: number, teams: ReadonlySet<string>): string {
  for (const c of colours) {
    const s = entry[c];
    const backup = s.backup.trim();
    if (backup && !teams.has(backup))
      return `“${backup}” is no team of this event. Type the number of ${c}’s backup robot.`;
    if (backup && s.plays.includes(backup)) return `${backup} plays already; it is no backup robot.`;
    const n = lineUp(s).length;
    if (n !== robots) return `${c === 'red' ? 'Red' : 'Blue'} has ${counted(n, 'robot')}; ${robots} play.`;
  }
  const all = colours.flatMap((c) => lineUp(entry[c]));
  const twice = all.find((t, i) => all.indexOf(t) !== i);
  return twice ? `${twice} cannot play on both sides.` : '';
}

/** The body of the record. */
export function factsOf(
  match: string,
  members: Record<Colour, readonly string[]>,
  entry: Entry
): PlayoffBody {
  const side = (c: Colour) => {
    const s = entry[c];
    const out = members[c].filter((t) => !s.plays.includes(t));
    return {
      ...(s.timeOut && { time_out: true }),
      ...(s.backup.trim() && { backup: s.backup.trim() }),
      ...(out.length > 0 && {
        sat_out: out.map((team) => (s.why[team]?.trim() ? { team, why: s.why[team].trim() } : { team }))
      })
    };
  };
  return {
    match,
    red: side('red'),
    blue: side('blue'),
    ...(entry.note.trim() && { note: entry.note.trim() })
  };
}

/** The schedule with the match as it is now. Times and results of a match that is there stay. */
export function scheduled(
  list: readonly Match[],
  id: string,
  startsAt: string | undefined,
  entry: Entry
): Match[] {
  const old = list.filter((m) => m.match === id).at(-1);
  const side = (c: Colour): Alliance => ({ ...old?.[c], teams: lineUp(entry[c]) });
  const made: Match = {
    match: id,
    play: old?.play ?? 1,
    starts_at: startsAt ?? old?.starts_at ?? '0001-01-01T00:00:00Z',
    red: side('red'),
    blue: side('blue')
  };
  return [...list.filter((m) => m !== old), made];
}

/** "Red took a time-out. 40130 came in as backup robot. 40117 sat out (drive broken)." */
export function factWords(body: PlayoffBody | undefined, series: BracketSeries | undefined): string[] {
  if (!body) return [];
  return colours.flatMap((c) => {
    const s = body[c];
    const who = series?.[c].alliance ? `Alliance ${series[c].alliance}` : c === 'red' ? 'Red' : 'Blue';
    return [
      ...(s.time_out ? [`${who} took a time-out.`] : []),
      ...(s.backup ? [`${who} had ${s.backup} as backup robot.`] : []),
      ...(s.sat_out ?? []).map((o) => `${o.team} sat out${o.why ? ` (${o.why})` : ''}.`)
    ];
  });
}

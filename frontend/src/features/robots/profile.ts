// What the records say of one robot, match by match.

import type { Colour, Match, Observation } from '$lib/api';
import { compareMatches, percent, unknown } from '$lib/figures';
import { nameOf, type Action, type Game } from '$lib/game/types';

/** A record as a screen needs it: its body, and whether it still waits to be sent. */
export interface Seen {
  id: string;
  body: Observation;
  conflict: boolean;
  unsent: boolean;
}

export interface MatchRow {
  match: string;
  side?: Colour;
  startsAt?: string;
  played: boolean;
  ownScore?: number;
  otherScore?: number;
  /** The opponents' score without what they got by fouls, where that is published. */
  otherOwn?: number;
  absent: boolean;
  /** The other robots of its alliance, and those against it. */
  partners: string[];
  opponents: string[];
  seen: Seen[];
}

/** All matches of a team in playing order, with the records of it. Discarded records are left out. */
export function matchRows(team: string, matches: readonly Match[], records: readonly Seen[]): MatchRow[] {
  const rows = new Map<string, MatchRow>();
  for (const m of matches) {
    const side: Colour | undefined = m.red.teams.includes(team)
      ? 'red'
      : m.blue.teams.includes(team)
        ? 'blue'
        : undefined;
    if (!side) continue;
    const own = m[side];
    const other = m[side === 'red' ? 'blue' : 'red'];
    rows.set(m.match, {
      match: m.match,
      side,
      startsAt: m.starts_at,
      played: !!own.result && !!other.result,
      ownScore: own.result?.score,
      otherScore: other.result?.score,
      otherOwn: other.result && other.result.score - (other.result.from_fouls ?? 0),
      absent: own.absent?.includes(team) ?? false,
      partners: own.teams.filter((t) => t !== team),
      opponents: other.teams,
      seen: []
    });
  }
  for (const record of records) {
    if (record.body.team !== team || record.body.discarded) continue;
    let row = rows.get(record.body.match);
    if (!row) {
      row = { match: record.body.match, played: false, absent: false, partners: [], opponents: [], seen: [] };
      rows.set(record.body.match, row);
    }
    row.seen.push(record);
  }
  for (const row of rows.values()) row.seen.sort((a, b) => (a.body.scout < b.body.scout ? -1 : 1));
  return [...rows.values()].sort((a, b) => compareMatches(a.match, b.match));
}

const range = (values: number[]): string => {
  const low = Math.min(...values);
  const high = Math.max(...values);
  return low === high ? String(low) : `${low}–${high}`;
};

const optionName = (action: Action, id: string) => {
  const option = action.options?.find((o) => o.id === id);
  return option ? nameOf(option) : id;
};

/** What the scouts of a match wrote for an action; "·" where nobody watched it. */
export function cell(action: Action, seen: readonly Seen[]): { text: string; missed?: string } {
  const notWatched = { text: '·' };
  const present = seen.filter((s) => !s.body.absent);
  if (action.kind === 'choice') {
    const options = new Set<string>();
    for (const s of present) {
      const chosen = s.body.choices?.[action.id]?.option;
      if (chosen) options.add(optionName(action, chosen));
    }
    return options.size > 0 ? { text: [...options].join(' or ') } : notWatched;
  }
  const made: number[] = [];
  const missed: number[] = [];
  for (const s of present) {
    const tally = s.body.counts?.[action.id];
    if (tally?.made !== undefined) made.push(tally.made);
    if (tally?.missed !== undefined) missed.push(tally.missed);
  }
  if (made.length === 0 && missed.length === 0) return notWatched;
  if (action.kind === 'flag') {
    const yes = made.filter((v) => v > 0).length;
    return { text: yes === 0 ? 'no' : yes === made.length ? 'yes' : 'yes or no' };
  }
  return {
    text: made.length > 0 ? range(made) : unknown,
    missed: action.misses && missed.length > 0 ? range(missed) : undefined
  };
}

/** Actions that belong to single robots, in the order of the game file. */
export function robotActions(game: Game): Action[] {
  return game.actions.filter((a) => a.by !== 'alliance');
}

/** "stopped 34 s, defended 20 s, lost sight": what the questions with a role say. */
export function remarks(game: Game, body: Observation): string[] {
  const out: string[] = [];
  if (body.absent) out.push('did not show');
  for (const q of game.questions ?? []) {
    if (q.when !== 'match') continue;
    const answer = body.answers?.[q.id];
    if (answer === undefined || answer === null) continue;
    if (typeof answer === 'number') {
      if (answer <= 0) continue;
      const verb = {
        stopped_seconds: 'stopped',
        defending_seconds: 'defended',
        feeding_seconds: 'fed'
      }[q.role ?? ''];
      out.push(verb ? `${verb} ${answer} s` : `${nameOf(q)} ${answer}`);
    } else if (typeof answer === 'boolean') {
      if (answer) out.push(q.role === 'lost_sight' ? 'lost sight of it' : nameOf(q).toLowerCase());
    } else if (answer !== '') {
      out.push(q.role === 'start_position' ? `started ${answer}` : `${nameOf(q)}: ${answer}`);
    }
  }
  for (const f of game.fouls ?? []) {
    const n = body.fouls?.[f.id] ?? 0;
    if (n > 0) out.push(`${nameOf(f).toLowerCase()} ${n}`);
  }
  return out;
}

/** "61 % count (52 % to 70 %), 23 tries". */
export function accuracyText(a: { share: number; low: number; high: number; tries: number }): string {
  const tries = a.tries === 1 ? '1 try' : `${a.tries} tries`;
  return `${percent(a.share)} count (${percent(a.low)} to ${percent(a.high)}), ${tries}`;
}

/** Matches still to play in which the robot meets our team, with or against. */
export function meetings(
  team: string,
  ours: string | undefined,
  matches: readonly Match[]
): { match: string; together: boolean }[] {
  if (!ours || ours === team) return [];
  const out: { match: string; together: boolean }[] = [];
  for (const m of matches) {
    if (m.red.result && m.blue.result) continue;
    for (const side of ['red', 'blue'] as const) {
      if (!m[side].teams.includes(team)) continue;
      const other = side === 'red' ? 'blue' : 'red';
      if (m[side].teams.includes(ours)) out.push({ match: m.match, together: true });
      else if (m[other].teams.includes(ours)) out.push({ match: m.match, together: false });
    }
  }
  return out.sort((a, b) => compareMatches(a.match, b.match));
}

export const markKinds = [
  { id: 'changed', name: 'Changed', means: 'it is built or driven differently from this match on' },
  { id: 'repaired', name: 'Repaired', means: 'what was broken works from this match on' },
  { id: 'substitute', name: 'Substitute', means: 'another driver or robot from this match on' },
  { id: 'told_to_defend', name: 'Told to defend', means: 'it plays defence from this match on' }
] as const;

/** What a lead said when asked whether a robot is another: it was not, up to this match. */
export const NO_CHANGE = { id: 'no_change', name: 'No change' } as const;

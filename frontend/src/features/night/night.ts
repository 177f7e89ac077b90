// The night between: what the day changed, the list against the numbers, places that are open.

import type { MarkBody, Match, Observation, TeamEstimate } from '$lib/api';
import { capital, compareTeams, counted, day, inWords, knownTime, listed } from '$lib/figures';
import { better, type Together } from '$lib/state/lists';
import { isPlayed, lastPlays } from '$lib/state/matches';

/** The day that is looked back on: that of the last played match, else of now. */
export function dayOf(matches: readonly Match[], zone: string, now: Date): string {
  const last = lastPlays(matches)
    .filter(isPlayed)
    .map((m) => knownTime(m.starts_at))
    .filter((t) => t !== undefined)
    .at(-1);
  return day(last ?? now, zone);
}

export interface Made<B> {
  body: B;
  /** When its last version was made, by the device's clock. */
  at: string | undefined;
}

export interface Today {
  /** Matches with a result whose planned start was on the day. */
  matches: Match[];
  /** Records of those matches that count. */
  records: Observation[];
  /** Marks that were made on the day. */
  marks: MarkBody[];
}

export function todayOf(
  on: string,
  zone: string,
  matches: readonly Match[],
  observations: readonly Observation[],
  marks: readonly Made<MarkBody>[]
): Today {
  const within = (text: string | undefined) => {
    const at = knownTime(text);
    return at !== undefined && day(at, zone) === on;
  };
  const played = lastPlays(matches).filter((m) => isPlayed(m) && within(m.starts_at));
  const ids = new Set(played.map((m) => m.match));
  return {
    matches: played,
    records: observations.filter((o) => !o.discarded && ids.has(o.match)),
    marks: marks
      .filter((m) => !m.body.discarded && m.body.kind !== 'no_change' && within(m.at))
      .map((m) => m.body)
  };
}

/** "32 matches were played on Fri 6 March, 180 records came in." */
export function todaySentence(on: string, t: Today): string {
  if (t.matches.length === 0) return `Nothing was played on ${on}.`;
  return `${counted(t.matches.length, 'match was', 'matches were')} played on ${on}, ${counted(t.records.length, 'record')} came in.`;
}

export interface Moved {
  team: string;
  before: number;
  now: number;
  /** Half-widths come from these. */
  beforeSd: number;
  nowSd: number;
  /** How far it moved in standard deviations of what was not known before. */
  size: number;
  why: string;
}

/** Robots whose estimate moved by more than half of what was not known before, most first. */
export function movedOf(
  before: readonly TeamEstimate[],
  now: readonly TeamEstimate[],
  today: Today
): Moved[] {
  const old = new Map(before.map((e) => [e.team, e]));
  return now
    .flatMap((e) => {
      const was = old.get(e.team);
      if (!was || !(was.now_sd > 0)) return [];
      const size = (e.now - was.now) / was.now_sd;
      return Math.abs(size) < 0.5
        ? []
        : [
            {
              team: e.team,
              before: was.now,
              now: e.now,
              beforeSd: was.now_sd,
              nowSd: e.now_sd,
              size,
              why: reasons(e.team, today)
            }
          ];
    })
    .sort((a, b) => Math.abs(b.size) - Math.abs(a.size) || compareTeams(a.team, b.team));
}

/** What came in about a robot: "5 records, did not show in Q31, marked: rebuilt". */
export function reasons(team: string, t: Today): string {
  const seen = t.records.filter((r) => r.team === team);
  const absent = seen.filter((r) => r.absent).map((r) => r.match);
  const out: string[] = [];
  out.push(seen.length === 0 ? 'not watched, by totals alone' : counted(seen.length, 'record'));
  if (absent.length > 0) out.push(`did not show in ${listed(absent)}`);
  const marks = t.marks.filter((m) => m.team === team);
  if (marks.length > 0) out.push(`marked: ${listed(marks.map((m) => m.kind))}`);
  return out.join(', ');
}

export interface Undecided {
  place: number;
  upper: string;
  lower: string;
  /** The chance that the lower one is the better. */
  wrong: number;
}

/** Neighbours on the list whose order is open: the lower is the better with a chance of more than a third. */
export function undecidedOf(
  list: readonly string[],
  estimates: ReadonlyMap<string, TeamEstimate>,
  together: Together
): Undecided[] {
  return list.slice(1).flatMap((lower, i) => {
    const upper = list[i]!;
    const a = estimates.get(upper);
    const b = estimates.get(lower);
    if (!a || !b) return [];
    const wrong = better(a, b, together);
    return wrong > 1 / 3 ? [{ place: i + 1, upper, lower, wrong }] : [];
  });
}

export function undecidedSentence(open: readonly Undecided[], neighbours: number): string {
  if (neighbours <= 0) return 'There is nothing to compare on this list yet.';
  if (open.length === 0) return 'Every robot on the list is likely better than the one below it.';
  const against = open.filter((u) => u.wrong > 0.5).length;
  const start = `${capital(inWords(open.length))} of ${neighbours} neighbours could as well stand the other way round`;
  return against === 0 ? `${start}.` : `${start}; in ${inWords(against)} the numbers say so.`;
}

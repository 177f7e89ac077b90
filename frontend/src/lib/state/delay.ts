/**
 * When a match will really start, learned from how late or early the last ones
 * were. What is known of a start: the first tap of a record (to the second),
 * or when a result was entered (some time after the end, so later by a match
 * and the pause after it).
 */
import type { Match } from '$lib/api';
import { clock, day } from '$lib/figures';
import { lastPlays, startOf } from './matches';

/** A sign of when a play began: milliseconds since 1970. */
export interface Sign {
  match: string;
  play: number;
  at: number;
  /** What was seen: the start itself, or the result being entered. */
  by: 'tap' | 'result';
}

/** So many matches back tell how late the event is now. */
const LOOK_BACK = 5;
/** More than this off its plan, a sign is of something else: a clock that is wrong, a result typed at night. */
const BELIEVED_MS = 3 * 3600_000;
/** From the start of a match until its result is entered; common practice, no source. */
const RESULT_AFTER_MS = 5 * 60_000;
/** A break of this length in the plan lets an event catch up. */
const BREAK_MS = 25 * 60_000;

/**
 * How late the event runs, in milliseconds; below 0: early. The median over the
 * last few matches that have a sign: one match that was held up, one tablet
 * with a wrong clock, do not move it. undefined: nothing tells.
 */
export function delayOf(schedule: readonly Match[], signs: readonly Sign[], now: Date): number | undefined {
  const plans = new Map(schedule.map((m) => [playOf(m), planOf(m)]));
  const byPlay = new Map<string, { planned: number; taps: number[]; results: number[] }>();
  for (const sign of signs) {
    const key = playOf(sign);
    const planned = plans.get(key);
    if (planned === undefined || sign.at > now.getTime() + 60_000) continue;
    const late = sign.at - planned - (sign.by === 'result' ? RESULT_AFTER_MS : 0);
    if (Math.abs(late) > BELIEVED_MS) continue;
    const kept = byPlay.get(key) ?? { planned, taps: [], results: [] };
    (sign.by === 'tap' ? kept.taps : kept.results).push(late);
    byPlay.set(key, kept);
  }
  const seen = [...byPlay.values()].sort((a, b) => a.planned - b.planned);
  const last = seen.at(-1);
  if (!last) return undefined;
  // Over a break, or a night, an event finds back to its plan.
  let from = seen.length - 1;
  while (from > 0 && seen.length - from < LOOK_BACK) {
    const gap = (seen[from]?.planned ?? 0) - (seen[from - 1]?.planned ?? 0);
    if (gap >= BREAK_MS) break;
    from--;
  }
  // All scouts of a match tap at its start; whoever came late did not.
  return median(seen.slice(from).map((s) => (s.taps.length > 0 ? median(s.taps) : Math.min(...s.results))));
}

/** When a match is to be expected; undefined: it has no planned start. */
export function expectedStart(
  match: Match,
  schedule: readonly Match[],
  signs: readonly Sign[],
  now: Date
): { at: Date; late: number | undefined } | undefined {
  const planned = startOf(match);
  if (!planned) return undefined;
  const late = delayOf(schedule, signs, now);
  if (late === undefined) return { at: planned, late };
  // Behind a break in the plan that has not been crossed yet, the plan holds again.
  const starts = lastPlays([...schedule]).flatMap((m) => startOf(m)?.getTime() ?? []);
  const plans = new Map(schedule.map((m) => [playOf(m), m]));
  const seen = new Set(signs.map(playOf));
  const lastSeen = Math.max(...[...seen].flatMap((play) => planOf(plans.get(play)) ?? []));
  const between = starts.filter((t) => t >= lastSeen && t <= planned.getTime()).sort((a, b) => a - b);
  const pause = between.some((t, i) => i > 0 && t - (between[i - 1] ?? t) >= BREAK_MS);
  return pause ? { at: planned, late: undefined } : { at: new Date(planned.getTime() + late), late };
}

const playOf = (m: { match: string; play?: number }): string => `${m.match}/${m.play || 1}`;

const planOf = (m: Match | undefined): number | undefined => m && startOf(m)?.getTime();

function median(values: number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  const upper = sorted[half] ?? 0;
  return sorted.length % 2 === 1 ? upper : ((sorted[half - 1] ?? upper) + upper) / 2;
}

/** "12 min late", "4 min early", "on time"; '' when nothing tells. */
export function lateInWords(late: number | undefined): string {
  if (late === undefined) return '';
  const minutes = Math.round(late / 60_000);
  if (Math.abs(minutes) < 2) return 'on time';
  return minutes > 0 ? `${minutes} min late` : `${-minutes} min early`;
}

/** What to tell of a match to come: "Running 6 min late: Q12 at about 10:46."; '' when nothing tells, or too little to matter. */
export function lateSentence(
  match: Match | undefined,
  schedule: readonly Match[],
  signs: readonly Sign[],
  now: Date,
  clockOf: (at: Date) => string
): string {
  const start = match && expectedStart(match, schedule, signs, now);
  const words = lateInWords(start?.late);
  if (!match || !start || !words) return '';
  return words === 'on time'
    ? 'Running on time.'
    : `Running ${words}: ${match.match} at about ${clockOf(start.at)}.`;
}

/** "in 4 min", "in 1 h 5 min", "now"; past: "any moment", then ''. */
export function countdown(at: Date, now: Date): string {
  const seconds = Math.round((at.getTime() - now.getTime()) / 1000);
  if (seconds < -600) return '';
  if (seconds < 0) return 'any moment';
  if (seconds < 60) return `in ${seconds} s`;
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return `in ${minutes} min`;
  if (minutes < 24 * 60) return `in ${Math.floor(minutes / 60)} h ${minutes % 60} min`;
  return '';
}

/** "about 10:46, in 9 min; the event runs 6 min late"; on another day with the day. */
export function startWords(start: { at: Date; late: number | undefined }, now: Date, zone: string): string {
  const late = lateInWords(start.late);
  const other = day(start.at, zone) === day(now, zone) ? '' : `${day(start.at, zone)}, `;
  const when = [`${other}about ${clock(start.at, zone)}`, countdown(start.at, now)]
    .filter(Boolean)
    .join(', ');
  return `${when}${late && `; the event runs ${late}`}`;
}

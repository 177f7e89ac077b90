// What scouts' records say of one robot in one match, as points and on the
// match's clock. Nothing here guesses: what was not watched is not zero.

import type { Match, Observation, Tap } from '$lib/api';
import { compareMatches } from '$lib/figures';
import { matchLength, pageOf } from '$lib/game/clock';
import type { Action, Game, Question } from '$lib/game/types';
import { afresh, type Reuse } from '$lib/state/reuse';
import { matchRows, type MatchRow, type Seen } from './profile';
import { medianInterval, trend, type Ranked } from './rank';

/** Points that one record tells of; `whole`: everything that is worth points was watched. */
export interface SeenPoints {
  points: number;
  whole: boolean;
}

const ownActions = (game: Game): Action[] => game.actions.filter((a) => a.by !== 'alliance');

/** Points of one action in one record; undefined: not watched. Caps of alliances are left out. */
export function pointsOfAction(action: Action, body: Observation): number | undefined {
  if (action.kind === 'choice') {
    const chosen = body.choices?.[action.id]?.option;
    if (chosen === undefined) return undefined;
    return action.options?.find((o) => o.id === chosen)?.points ?? 0;
  }
  const made = body.counts?.[action.id]?.made;
  return made === undefined ? undefined : made * (action.points ?? 0);
}

const isWorth = (a: Action): boolean =>
  a.kind === 'choice' ? (a.options ?? []).some((o) => (o.points ?? 0) !== 0) : (a.points ?? 0) !== 0;

/** Points of one record, of one period's actions or of all. Absent: zero, and whole. */
export function pointsOf(game: Game, body: Observation, period?: string): SeenPoints {
  if (body.absent) return { points: 0, whole: true };
  let points = 0;
  let whole = true;
  for (const a of ownActions(game)) {
    if (!isWorth(a) || (period !== undefined && a.period !== period)) continue;
    const p = pointsOfAction(a, body);
    if (p === undefined) whole = false;
    else points += p;
  }
  return { points, whole };
}

/** How far the ends of two parts may lie apart to be one watching handed on; see stats/record/part.go. */
const SEAM_MS = 15_000;

/**
 * Parts of a match that scouts handed to each other as one record; a part
 * without its other half is left out. The same as JoinParts in stats/record,
 * for the counts, answers and taps that are used here.
 */
export function wholeRecords(game: Game, bodies: readonly Observation[]): Observation[] {
  const whole = bodies.filter((b) => b.absent || (b.from === undefined && b.to === undefined));
  const parts = bodies.filter((b) => !whole.includes(b)).sort((a, b) => (a.from ?? 0) - (b.from ?? 0));
  const used = new Set<Observation>();
  for (const first of parts) {
    if (first.from !== undefined) continue;
    const chain = [first];
    for (const next of parts) {
      const end = chain[chain.length - 1]!.to;
      if (end === undefined || next.from === undefined || used.has(next)) continue;
      if (Math.abs(next.from - end) <= SEAM_MS) chain.push(next);
    }
    if (chain.length < 2 || chain[chain.length - 1]!.to !== undefined) continue;
    chain.forEach((c) => used.add(c));
    whole.push(chain.reduce((a, b) => joined(game, a, b)));
  }
  return whole;
}

const plus = (a: number | undefined, b: number | undefined) =>
  a === undefined ? b : b === undefined ? a : a + b;

function joined(game: Game, a: Observation, b: Observation): Observation {
  const out: Observation = { ...a, to: undefined, taps: [...(a.taps ?? []), ...(b.taps ?? [])] };
  const counts = { ...a.counts };
  for (const [id, t] of Object.entries(b.counts ?? {})) {
    const flag = game.actions.find((x) => x.id === id)?.kind === 'flag';
    const made = plus(counts[id]?.made, t.made);
    counts[id] = {
      made: flag && made !== undefined ? Math.min(1, made) : made,
      missed: plus(counts[id]?.missed, t.missed)
    };
  }
  const fouls = { ...a.fouls };
  for (const [id, n] of Object.entries(b.fouls ?? {})) fouls[id] = (fouls[id] ?? 0) + n;
  const answers = { ...a.answers, ...b.answers };
  for (const q of game.questions ?? []) {
    const [x, y] = [a.answers?.[q.id], b.answers?.[q.id]];
    if (x === true) answers[q.id] = true;
    else if (typeof x === 'number' && typeof y === 'number' && q.role?.endsWith('_seconds'))
      answers[q.id] = x + y;
  }
  return { ...out, counts, fouls, answers, choices: { ...a.choices, ...b.choices } };
}

/** The records of a match that are evidence: whole ones, joined. */
export function evidence(game: Game, row: MatchRow): Observation[] {
  const plays = row.seen.map((s) => s.body).filter((b) => !b.discarded);
  const last = Math.max(1, ...plays.map((b) => b.play || 1));
  return wholeRecords(
    game,
    plays.filter((b) => (b.play || 1) === last)
  );
}

const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;

/** Mean over scouts of what a match showed; undefined: nobody watched. */
export function matchPoints(game: Game, row: MatchRow, period?: string): SeenPoints | undefined {
  const all = evidence(game, row).map((b) => pointsOf(game, b, period));
  if (all.length === 0) return row.absent ? { points: 0, whole: true } : undefined;
  const whole = all.filter((p) => p.whole);
  return { points: mean((whole.length > 0 ? whole : all).map((p) => p.points)), whole: whole.length > 0 };
}

/** Question with a role that scouts answer about a match. */
export const asked = (game: Game, role: string): Question | undefined =>
  game.questions?.find((q) => q.when === 'match' && q.role === role);

/** Seconds with a role in a match, mean over scouts; undefined: nobody answered. */
export function seconds(game: Game, row: MatchRow, role: string): number | undefined {
  const q = asked(game, role);
  if (!q) return undefined;
  const said = evidence(game, row)
    .map((b) => b.answers?.[q.id])
    .filter((a) => typeof a === 'number');
  return said.length > 0 ? mean(said) : undefined;
}

/** Points that the opponents got by its fouls, a watched match. */
function foulPoints(game: Game, row: MatchRow): number | undefined {
  const said = evidence(game, row)
    .filter((b) => b.fouls !== undefined)
    .map((b) =>
      (game.fouls ?? []).reduce((sum, f) => sum + (b.fouls?.[f.id] ?? 0) * (f.opponent_points ?? 0), 0)
    );
  return said.length > 0 ? mean(said) : undefined;
}

export interface Moment {
  ms: number;
  id: string;
  step: number;
  place?: [number, number];
}

export interface SpanOf {
  role: string;
  from: number;
  to: number;
}

export interface Timeline {
  match: string;
  side?: 'red' | 'blue';
  /** What was done and not taken back, in order of time. */
  moments: Moment[];
  /** Stopped, defending, feeding, lost sight: from and to in ms. */
  spans: SpanOf[];
  /** Roles with seconds that the record has, but not when. */
  undated: string[];
}

/** Roles whose beginning and end the form keeps. */
const SPANNED = ['stopped_seconds', 'defending_seconds', 'feeding_seconds', 'lost_sight'];

/** One record on the match's clock: what was taken back is gone, beginnings have their ends. */
export function timelineOf(game: Game, row: MatchRow): Timeline | undefined {
  // Of two scouts' records the one that tells more.
  const body = evidence(game, row)
    .filter((b) => !b.absent && (b.taps?.length ?? 0) > 0)
    .sort((a, b) => b.taps!.length - a.taps!.length)[0];
  if (!body?.taps) return undefined;
  const end = matchLength(game);
  const roles = new Map(
    (game.questions ?? []).flatMap((q) =>
      q.role && SPANNED.includes(q.role) ? [[q.id, q.role] as const] : []
    )
  );
  const moments: Moment[] = [];
  const spans: SpanOf[] = [];
  const open = new Map<string, number>();
  for (const [ms, id, step, x, y] of [...body.taps].sort((a: Tap, b: Tap) => a[0] - b[0])) {
    const role = roles.get(id);
    if (role !== undefined) {
      const from = open.get(role);
      if (step > 0) open.set(role, from ?? ms);
      else if (from !== undefined) {
        open.delete(role);
        spans.push({ role, from, to: ms });
      }
    } else if (step > 0) {
      moments.push({ ms, id, step, place: x !== undefined && y !== undefined ? [x, y] : undefined });
    } else {
      const at = moments.findLastIndex((m) => m.id === id && m.step === -step);
      if (at >= 0) moments.splice(at, 1);
    }
  }
  for (const [role, from] of open) if (from < end) spans.push({ role, from, to: end });
  const undated = SPANNED.filter((role) => {
    const q = asked(game, role);
    const said = q && body.answers?.[q.id];
    return (said === true || (typeof said === 'number' && said > 0)) && !spans.some((s) => s.role === role);
  });
  return { match: row.match, side: row.side, moments, spans, undated };
}

/** Ids of pieces that score one by one: a robot's counts and volumes that are worth points. */
export const scoringIds = (game: Game): Set<string> =>
  new Set(
    ownActions(game)
      .filter((a) => (a.kind === 'count' || a.kind === 'volume') && (a.points ?? 0) > 0)
      .map((a) => a.id)
  );

/** Scores that follow each other this fast were brought by one trip. */
const TRIP_MS = 2000;

const overlap = (from: number, to: number, spans: readonly SpanOf[]): number => {
  // Spans of two roles do not overlap: the form has one toggle for them.
  return spans.reduce((sum, s) => sum + Math.max(0, Math.min(to, s.to) - Math.max(from, s.from)), 0);
};

/**
 * Seconds from the start of one trip to the start of the next within one period,
 * stopped and defending time taken off. A gap in which the robot was out of sight
 * says nothing; so does a record that has such time but not when.
 */
export function tripGaps(game: Game, t: Timeline): number[] {
  if (t.undated.some((r) => r !== 'feeding_seconds')) return [];
  const scoring = scoringIds(game);
  const page = new Map(game.actions.map((a) => [a.id, pageOf(game, a.period)]));
  const gaps: number[] = [];
  let trip: { from: number; last: number; page?: string } | undefined;
  for (const m of t.moments) {
    if (!scoring.has(m.id)) continue;
    const here = page.get(m.id);
    if (trip && trip.page === here && m.ms - trip.last <= TRIP_MS) {
      trip.last = m.ms;
      continue;
    }
    if (trip && trip.page === here) {
      const { from } = trip;
      const lost =
        overlap(
          from,
          m.ms,
          t.spans.filter((s) => s.role === 'lost_sight')
        ) > 0;
      const idle = overlap(
        from,
        m.ms,
        t.spans.filter((s) => s.role === 'stopped_seconds' || s.role === 'defending_seconds')
      );
      if (!lost) gaps.push((m.ms - from - idle) / 1000);
    }
    trip = { from: m.ms, last: m.ms, page: here };
  }
  return gaps;
}

/** What a robot's records say over the event, for one line of the table. */
export interface Summary {
  /** Points seen, match by match, where everything was watched. */
  points: { match: string; value: number }[];
  /** Change of points a match; undefined with fewer than two. */
  trend?: Ranked;
  /** Seconds between scores. */
  gap?: Ranked;
  /** Points that opponents got by its fouls, mean over watched matches. */
  fouls?: number;
  /** Start places, how often each. */
  starts: Map<string, number>;
}

export function summaryOf(game: Game, rows: readonly MatchRow[]): Summary {
  const points: { match: string; value: number }[] = [];
  const starts = new Map<string, number>();
  const fouls: number[] = [];
  const gaps: number[] = [];
  const places: { at: number; value: number }[] = [];
  const q = asked(game, 'start_position');
  rows.forEach((row, at) => {
    if (row.seen.length === 0) return;
    const p = matchPoints(game, row);
    // A match that it missed tells of breakdowns, not of what it can do.
    const there = evidence(game, row).some((b) => !b.absent);
    if (p?.whole && there) {
      points.push({ match: row.match, value: p.points });
      places.push({ at, value: p.points });
    }
    const f = foulPoints(game, row);
    if (f !== undefined) fouls.push(f);
    const start =
      q && evidence(game, row).find((b) => typeof b.answers?.[q.id] === 'string')?.answers?.[q.id];
    if (typeof start === 'string' && start !== '') starts.set(start, (starts.get(start) ?? 0) + 1);
    const t = timelineOf(game, row);
    if (t) gaps.push(...tripGaps(game, t));
  });
  return {
    points,
    trend: trend(places),
    gap: medianInterval(gaps),
    fouls: fouls.length > 0 ? mean(fouls) : undefined,
    starts
  };
}

/** The summaries of all robots. */
export function summaries(
  game: Game,
  teams: readonly string[],
  matches: readonly Match[],
  records: readonly Seen[],
  reuse: Reuse = afresh
): Map<string, Summary> {
  const of = new Map<string, Seen[]>();
  for (const r of records) {
    const those = of.get(r.body.team);
    if (those) those.push(r);
    else of.set(r.body.team, [r]);
  }
  return new Map(
    teams.map((team) => {
      const own = of.get(team) ?? [];
      const played = matches.filter((m) => m.red.teams.includes(team) || m.blue.teams.includes(team));
      const make = () =>
        summaryOf(
          game,
          matchRows(team, played, own).sort((a, b) => compareMatches(a.match, b.match))
        );
      return [team, reuse(team, [game, ...played, ...own.map((r) => r.body)], make)];
    })
  );
}

// What a robot's page tells beyond its figures: where it starts and how that
// goes, when it stops, what it spends its time on, defence, fouls. Where there
// is too little to say something, it says so.

import type { TeamEstimate } from '$lib/api';
import { counted, fixed, listed, signed } from '$lib/figures';
import { matchLength, spans as periodSpans } from '$lib/game/clock';
import { distinctName } from '$lib/game/names';
import { nameOf, type Action, type Field, type Game } from '$lib/game/types';
import type { MatchRow } from './profile';
import { medianInterval, shareInterval, shift, type Ranked } from './rank';
import {
  asked,
  evidence,
  matchPoints,
  pointsOf,
  scoringIds,
  seconds,
  timelineOf,
  type Timeline
} from './seen';

export const tooLittleData = 'too little data';

const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;

/** The name of an action, with its period where the name alone is not clear. */
export function actionLabel(game: Game, a: Action): string {
  const { name, period } = distinctName(game, a);
  return period ? `${name}, ${period}` : name;
}

/** The period in which robots act by themselves: the first of several. */
export function opening(game: Game): string | undefined {
  const outer = game.periods.filter((p) => !p.within);
  return outer.length > 1 ? outer[0]?.id : undefined;
}

export interface Start {
  place: string;
  /** What it did there in the opening period, "Casts off, Barrel on deck"; "" for nothing. */
  routine: string;
  matches: string[];
  /** Points of the opening period. */
  points?: Ranked;
  /** In how many of the matches it scored in that period, as a share. */
  scored?: Ranked;
}

/** By start place and by what it did from there; the most used first. */
export function starts(game: Game, rows: readonly MatchRow[]): Start[] {
  const q = asked(game, 'start_position');
  const period = opening(game);
  if (!q || !period) return [];
  const actions = game.actions.filter((a) => a.by !== 'alliance' && a.period === period);
  const groups = new Map<string, { place: string; routine: string; matches: string[]; points: number[] }>();
  for (const row of rows) {
    for (const body of evidence(game, row)) {
      const place = body.answers?.[q.id];
      if (typeof place !== 'string' || place === '') continue;
      const tried = actions.filter((a) => {
        const t = body.counts?.[a.id];
        return (t?.made ?? 0) > 0 || (t?.missed ?? 0) > 0;
      });
      const routine = tried.map((a) => nameOf(a)).join(', ');
      const key = `${place}\n${routine}`;
      const group = groups.get(key) ?? { place, routine, matches: [], points: [] };
      if (group.matches.includes(row.match)) continue; // a second scout saw the same
      group.matches.push(row.match);
      const p = pointsOf(game, body, period);
      if (p.whole) group.points.push(p.points);
      groups.set(key, group);
      break;
    }
  }
  return [...groups.values()]
    .map((g) => ({
      place: g.place,
      routine: g.routine,
      matches: g.matches,
      points: medianInterval(g.points),
      scored: shareInterval(g.points.filter((p) => p > 0).length, g.points.length)
    }))
    .sort((a, b) => b.matches.length - a.matches.length || (a.place < b.place ? -1 : 1));
}

export interface Stop {
  match: string;
  /** Seconds stopped; undefined: it did not show. */
  seconds?: number;
  /** "0:45 to 1:19" on the match's clock since its start, where the record says when. */
  when?: string;
}

/** "1:05" of milliseconds since the start. */
export function sinceStart(ms: number): string {
  const s = Math.round(ms / 1000);
  return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, '0')}`;
}

export function stops(game: Game, rows: readonly MatchRow[]): Stop[] {
  const out: Stop[] = [];
  for (const row of rows) {
    const all = evidence(game, row);
    if (row.absent || (all.length > 0 && all.every((b) => b.absent))) {
      out.push({ match: row.match });
      continue;
    }
    const s = seconds(game, row, 'stopped_seconds');
    if (s === undefined || s <= 0) continue;
    const spans = timelineOf(game, row)?.spans.filter((x) => x.role === 'stopped_seconds') ?? [];
    const when = spans.map((x) => `${sinceStart(x.from)} to ${sinceStart(x.to)}`);
    out.push({ match: row.match, seconds: s, when: when.length > 0 ? listed(when) : undefined });
  }
  return out;
}

const roleNames: Record<string, string> = {
  stopped_seconds: 'Stopped',
  defending_seconds: 'Defending',
  feeding_seconds: 'Feeding'
};

export interface RoleTime {
  name: string;
  /** Seconds a match, mean over the matches that tell. */
  seconds: number;
  matches: number;
}

/** Seconds a match by what it did; the rest is scoring and driving. Empty: the game file does not ask. */
export function roleTimes(game: Game, rows: readonly MatchRow[]): RoleTime[] {
  const out: RoleTime[] = [];
  for (const [role, name] of Object.entries(roleNames)) {
    const said = rows.map((r) => seconds(game, r, role)).filter((s) => s !== undefined);
    if (said.length > 0) out.push({ name, seconds: mean(said), matches: said.length });
  }
  if (out.length === 0) return [];
  // The pause between periods is nobody's time.
  const played = periodSpans(game)
    .filter((s) => !s.period.within)
    .reduce((sum, s) => sum + s.to - s.from, 0);
  const rest = Math.max(
    0,
    Math.min(played, matchLength(game)) / 1000 - out.reduce((sum, r) => sum + r.seconds, 0)
  );
  return [
    ...out,
    { name: 'Scoring and driving', seconds: rest, matches: Math.min(...out.map((r) => r.matches)) }
  ];
}

/** From this many seconds on a match counts as one with defence. Our choice, no source. */
const DEFENDED_S = 10;
/** As many matches of each sort are needed before two sorts are compared. Our choice, no source. */
const ENOUGH = 3;

const rangeText = (r: Ranked) =>
  r.range ? `80 % interval ${signed(r.range[0])} to ${signed(r.range[1])}` : 'too few for an interval';

/**
 * Defence that it played, in words: how often, and by how much its opponents'
 * scores then differed from the sum of what their robots usually add.
 */
export function defencePlayed(
  game: Game,
  rows: readonly MatchRow[],
  estimates: ReadonlyMap<string, TeamEstimate>,
  rest: number
): string {
  if (!asked(game, 'defending_seconds'))
    return 'Not recorded: the game file does not ask for seconds of defence.';
  const said = rows.flatMap((row) => {
    const s = seconds(game, row, 'defending_seconds');
    return s === undefined ? [] : [{ row, s }];
  });
  if (said.length === 0) return 'Nobody has watched it yet.';
  const done = said.filter((x) => x.s >= DEFENDED_S);
  if (done.length === 0) return `None seen in ${counted(said.length, 'watched match', 'watched matches')}.`;
  const total = Math.round(done.reduce((sum, x) => sum + x.s, 0));
  const first = `It defended for ${DEFENDED_S} s or more in ${done.length} of ${counted(said.length, 'watched match', 'watched matches')}, ${total} s in all.`;
  const differences = done.flatMap(({ row }) => {
    const usual = row.opponents.map((t) => estimates.get(t)?.points);
    if (row.otherOwn === undefined || usual.length === 0 || usual.some((p) => p === undefined)) return [];
    return [row.otherOwn - usual.reduce((a, b) => a! + b!, rest)!];
  });
  const effect = medianInterval(differences);
  if (!effect?.range) return `${first} What that does to opponents: ${tooLittleData}.`;
  return (
    `${first} Its opponents then scored ${signed(effect.value)} points against what their robots usually add ` +
    `(median of ${differences.length}, ${rangeText(effect)}); the rest of the match is in that too.`
  );
}

/** Seconds that the opponents of a match defended, all robots together; undefined: nobody watched them. */
export function opponentsDefended(
  game: Game,
  row: MatchRow,
  byTeam: ReadonlyMap<string, MatchRow[]>
): number | undefined {
  const said = row.opponents.flatMap((t) => {
    const theirs = byTeam.get(t)?.find((r) => r.match === row.match);
    const s = theirs && seconds(game, theirs, 'defending_seconds');
    return s === undefined ? [] : [s];
  });
  return said.length > 0 ? said.reduce((a, b) => a + b, 0) : undefined;
}

/** How it scored when its opponents defended. Whom they defended is not recorded. */
export function defenceSuffered(
  game: Game,
  rows: readonly MatchRow[],
  byTeam: ReadonlyMap<string, MatchRow[]>
): string {
  if (!asked(game, 'defending_seconds'))
    return 'Not recorded: the game file does not ask for seconds of defence.';
  const against: number[] = [];
  const free: number[] = [];
  for (const row of rows) {
    const defended = opponentsDefended(game, row, byTeam);
    const p = matchPoints(game, row);
    if (defended === undefined || !p?.whole) continue;
    (defended >= DEFENDED_S ? against : free).push(p.points);
  }
  if (against.length + free.length === 0) return 'Nobody has watched it together with its opponents yet.';
  const first = `Its opponents defended for ${DEFENDED_S} s or more in ${against.length} of ${counted(against.length + free.length, 'match', 'matches')} that were watched on both sides.`;
  const effect = against.length >= ENOUGH && free.length >= ENOUGH ? shift(against, free) : undefined;
  if (!effect?.range) return `${first} How it scores then: ${tooLittleData}.`;
  return `${first} It then scored ${signed(effect.value)} points (${rangeText(effect)}) against its other matches. Whom they defended is not recorded.`;
}

/** Its fouls, summed by kind over the watched matches. */
export function fouls(
  game: Game,
  rows: readonly MatchRow[]
): { name: string; total: number; matches: number }[] {
  return (game.fouls ?? []).map((f) => {
    const said = rows.flatMap((row) => {
      const counts = evidence(game, row)
        .map((b) => b.fouls?.[f.id])
        .filter((n) => n !== undefined);
      return counts.length > 0 ? [mean(counts)] : [];
    });
    return { name: nameOf(f), total: said.reduce((a, b) => a + b, 0), matches: said.length };
  });
}

/** "Minor foul 3, Major foul none, in 8 watched matches." */
export function foulsText(all: readonly { name: string; total: number; matches: number }[]): string {
  const watched = Math.max(0, ...all.map((f) => f.matches));
  if (all.length === 0) return 'The game file has no fouls.';
  if (watched === 0) return 'Nobody has watched it yet.';
  const parts = all.map(
    (f) => `${f.name} ${f.total === 0 ? 'none' : fixed(f.total, Number.isInteger(f.total) ? 0 : 1)}`
  );
  return `${parts.join(', ')}, in ${counted(watched, 'watched match', 'watched matches')}.`;
}

export interface Place {
  match: string;
  x: number;
  y: number;
  made: boolean;
  label: string;
}

/** Where it scored and missed, all matches seen from red's side. */
export function places(
  game: Game,
  field: Pick<Field, 'length_m' | 'width_m' | 'turn'>,
  all: readonly Timeline[]
): Place[] {
  const names = new Map(game.actions.map((a) => [a.id, actionLabel(game, a)]));
  return all.flatMap((t) =>
    t.moments.flatMap((m) => {
      if (!m.place) return [];
      const missed = m.id.endsWith('_missed') && !names.has(m.id);
      const name = names.get(missed ? m.id.replace(/_missed$/, '') : m.id);
      if (name === undefined) return [];
      const [x, y] = fromRed(field, t.side, m.place);
      return [{ match: t.match, x, y, made: !missed, label: name }];
    })
  );
}

/** A place as it would be if the robot had played for red: blue's half is red's, turned or mirrored. */
export function fromRed(
  field: Pick<Field, 'length_m' | 'width_m' | 'turn'>,
  side: 'red' | 'blue' | undefined,
  [x, y]: [number, number]
): [number, number] {
  if (side !== 'blue') return [x, y];
  return field.turn === 'mirror' ? [field.length_m - x, y] : [field.length_m - x, field.width_m - y];
}

export interface Tally {
  action: Action;
  label: string;
  made: number;
  missed: number;
  matches: number;
}

/** Makes and misses of each action that has them, summed over matches in which both were seen. */
export function tallies(game: Game, rows: readonly MatchRow[]): Tally[] {
  return game.actions
    .filter((a) => a.by !== 'alliance' && a.misses)
    .map((action) => {
      const seen = rows.flatMap((row) => {
        const both = evidence(game, row)
          .map((b) => b.counts?.[action.id])
          .filter((t) => t?.made !== undefined && t.missed !== undefined);
        return both.length > 0
          ? [{ made: mean(both.map((t) => t!.made!)), missed: mean(both.map((t) => t!.missed!)) }]
          : [];
      });
      return {
        action,
        label: actionLabel(game, action),
        made: seen.reduce((sum, s) => sum + s.made, 0),
        missed: seen.reduce((sum, s) => sum + s.missed, 0),
        matches: seen.length
      };
    });
}

/** Whether any piece can be scored one by one, so that time between scores means something. */
export const hasTrips = (game: Game): boolean => scoringIds(game).size > 0;

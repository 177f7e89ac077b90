// Standings to come in words and rows.

import type { Ending, Goal, GoalNode, Happening, Hardness, Matter, Ranked, Standings } from '$lib/api';
import { capital, fixed, halfWidth, inWords, listed, ordinal, percent } from '$lib/figures';
import { nameOf, type Game } from '$lib/game/types';

/** A chance as people say it of weekends: "in 41 of 100 weekends". */
export function ofWeekends(p: number): string {
  if (p <= 0) return 'in none of the weekends played out';
  if (p >= 1) return 'in all of the weekends played out';
  const n = Math.round(p * 100);
  if (n === 0) return 'in fewer than 1 of 100 weekends';
  if (n === 100) return 'in more than 99 of 100 weekends';
  return `in ${n} of 100 weekends`;
}

/** What a goal is called within a sentence: "among the captains", "in the top 4". */
export function goalWords(top: number, captains: number): string {
  if (top === captains && captains > 0) return 'among the captains';
  return top === 1 ? 'first' : `in the top ${top}`;
}

/** The goals that are offered as chips; 0 is the captains' places, for which the server knows the number. */
export function goalChips(captains: number, teams: number): { top: number; name: string }[] {
  const tops = [1, 4, 8, 12, 16, 24].filter((n) => n !== captains && n < teams);
  const out = tops.map((top) => ({ top, name: top === 1 ? 'First' : `Top ${top}` }));
  return captains > 0 ? [{ top: 0, name: `Captain, top ${captains}` }, ...out] : out;
}

/** The first line: where we stand and where we end. */
export function firstLine(s: Standings): string {
  const us = s.ranking.find((r) => r.team === s.our_team);
  if (s.runs === 0) {
    if (!us || us.matches === 0) return 'Nothing has been played yet, so there is no order to tell of.';
    return `We are ${ordinal(us.rank)}; too little is known of the robots to say where we end.`;
  }
  if (!us || !s.goal) {
    const first = s.teams[0];
    return first
      ? `${first.team} is most likely to end ahead: first ${ofWeekends(first.rank[0] ?? 0)}. Which team is ours was not said.`
      : 'Which team is ours was not said.';
  }
  if (s.ranking.every((r) => r.to_come === 0)) return `Qualification is over: we ended ${ordinal(us.rank)}.`;
  const now = us.matches === 0 ? 'We have not played yet' : `We are ${ordinal(us.rank)}`;
  return `${now}; we end ${goalWords(s.goal.top, s.captains)} ${ofWeekends(s.goal.chance)}.`;
}

export interface Row {
  team: string;
  now: Ranked;
  ending: Ending | undefined;
  past: Hardness | undefined;
  toCome: Hardness | undefined;
}

export type SortId = 'now' | 'end' | 'captain' | 'points' | 'schedule';

/** One row a team, in the chosen order; what is not known comes last. */
export function rowsOf(s: Standings, sort: SortId): Row[] {
  const endings = new Map(s.teams.map((t) => [t.team, t]));
  const schedules = new Map(s.schedules.map((t) => [t.team, t]));
  const rows = s.ranking.map((now) => ({
    team: now.team,
    now,
    ending: endings.get(now.team),
    past: schedules.get(now.team)?.past,
    toCome: schedules.get(now.team)?.to_come
  }));
  const key = (r: Row): number => {
    switch (sort) {
      case 'end':
        return r.ending?.mean_rank ?? Infinity;
      case 'captain':
        return -(r.ending?.seeded ?? -1);
      case 'points':
        return -(r.ending?.ranking_points ?? -1);
      case 'schedule':
        return r.toCome && r.toCome.matches > 0 ? r.toCome.edge : Infinity;
      default:
        return r.now.rank;
    }
  };
  return rows
    .map((row, at) => ({ row, at, key: key(row) }))
    .sort((a, b) => (a.key === b.key ? a.at - b.at : a.key < b.key ? -1 : 1))
    .map((x) => x.row);
}

/** A place's chance at which a bar is as high as its row. */
export const fullBar = 0.2;

export interface Bar {
  place: number;
  /** 0 … 1 of the row. */
  height: number;
}

/** The bars of a strip; places that almost never come about are left out. */
export function stripBars(rank: readonly number[]): Bar[] {
  return rank.flatMap((p, i) => (p < 0.002 ? [] : [{ place: i + 1, height: Math.min(1, p / fullBar) }]));
}

/** The strip in words. */
export function stripWords(e: Ending): string {
  const most = e.rank.reduce((best, p, i) => (p > (e.rank[best] ?? 0) ? i : best), 0);
  const span =
    e.best === e.worst
      ? `${ordinal(e.best)} in 8 of 10 weekends or more`
      : `${ordinal(e.best)} to ${ordinal(e.worst)} in 8 of 10 weekends`;
  return `ends ${span}, most often ${ordinal(most + 1)}`;
}

/** "we win", "blue wins", "we gain Full load", "red gains Berth"; without the match. */
export function happens(h: Happening, game: Game | undefined): string {
  if (h.outcome === 'tie') return h.ours ? 'we tie' : 'a tie';
  if (h.outcome) return h.ours ? 'we win' : `${h.outcome} wins`;
  const point = game?.ranking_points?.find((p) => p.id === h.ranking_point);
  const name = point ? nameOf(point) : (h.ranking_point ?? '');
  return h.ours ? `we gain ${name}` : `${h.alliance ?? ''} gains ${name}`;
}

const inMatch = (h: Happening, game: Game | undefined) => `${happens(h, game)} in ${h.match}`;

/** Chances that differ by less cannot be told apart by so many runs, or do not matter. */
const noise = 2;
const least = 0.01;

export interface Mattering {
  id: string;
  match: string;
  ours: boolean;
  text: string;
  /** How sure the difference is, if that is worth saying. */
  spread: string;
  /** What the ranking points themselves make of the difference, if it is another figure. */
  direct: string;
}

/** What matters, most first: of each match one outcome, ours where it is our match. */
export function mattersOf(goal: Goal, game: Game | undefined): Mattering[] {
  const told = new Map<string, Matter>();
  for (const m of goal.matters) {
    const move = m.given - m.otherwise;
    if (Math.abs(move) < least || Math.abs(move) < noise * m.se) continue;
    const key = m.outcome ? `${m.match} outcome` : `${m.match} ${m.alliance} ${m.ranking_point}`;
    const before = told.get(key);
    if (!before) told.set(key, m);
    else if (m.ours && m.outcome !== 'tie' && (!before.ours || before.outcome === 'tie')) told.set(key, m);
  }
  return [...told.entries()].map(([id, m]) => ({
    id,
    match: m.match,
    ours: m.ours,
    text: matterSentence(m, game),
    spread: spreadOf(m),
    direct: directOf(m)
  }));
}

/** "If we gain Full load, 66 %; if not, 41 %." with the word for the way it moves. */
export function matterSentence(m: Matter, game: Game | undefined): string {
  const [from, to] = [m.otherwise, m.given].map((p) => percent(p));
  const verb = m.given > m.otherwise ? 'lifts' : 'lowers';
  const numbers =
    from === to ? 'moves us by less than a hundredth' : `${verb} us from ${bare(from)} to ${to}`;
  return `${capital(subject(m, game))} ${numbers}.`;
}

/** The happening as the subject of a sentence: "a win of ours", "Full load for blue". */
function subject(h: Happening, game: Game | undefined): string {
  if (h.outcome === 'tie') return 'a tie';
  if (h.outcome) return h.ours ? 'a win of ours' : `a win of ${h.outcome}`;
  const point = game?.ranking_points?.find((p) => p.id === h.ranking_point);
  const name = point ? nameOf(point) : (h.ranking_point ?? '');
  return h.ours ? `${name} for us` : `${name} for ${h.alliance ?? ''}`;
}

const bare = (text: string | undefined) => (text ?? '').replace(/\u00a0%$/, '');
function spreadOf(m: Matter): string {
  const half = Math.round(halfWidth[80] * m.se * 100);
  return half < 2 ? '' : `± ${half} points`;
}

function directOf(m: Matter): string {
  const all = Math.round((m.given - m.otherwise) * 100);
  if (Math.abs(m.effect) < noise * m.effect_se) return 'not by its ranking points';
  const direct = Math.round(m.effect * 100);
  if (Math.abs(all - direct) < 3) return '';
  if (direct === 0) return 'hardly by its ranking points';
  return `${fixed(Math.abs(direct), 0)} of these ${Math.abs(all)} by its ranking points`;
}

/** What must happen for the goal: sentences, the likeliest way first. */
export function mustHappen(goal: Goal, captains: number, game: Game | undefined): string[] {
  const there = goalWords(goal.top, captains);
  if (goal.chance >= 1) return [`Nothing: we end ${there} whatever comes.`];
  if (goal.chance <= 0) return [`It is out of reach: no weekend played out ends with us ${there}.`];
  if (goal.chance > 0.9) return [`Nothing special: we end ${there} ${ofWeekends(goal.chance)}.`];
  const out = goal.enough.map((c) => {
    const all = listed(c.all.map((h) => inMatch(h, game)));
    return `If ${all}: ${percent(c.given)}. That comes about ${ofWeekends(c.chance)}.`;
  });
  if (out.length === 0) {
    out.push(
      'No two or three things in our own matches are enough for nine weekends in ten; it hangs on others, too.'
    );
  }
  return out;
}

/** How many more ranking points it takes; empty if that says nothing. */
export function pointsSentence(goal: Goal): string {
  if (goal.chance > 0.9 || goal.chance <= 0) return '';
  const enough = goal.points.find((p) => p.at_least >= 0.9);
  const half = goal.points.find((p) => p.at_least >= 0.5);
  const share = (from: number) =>
    goal.points.filter((p) => p.points >= from).reduce((sum, p) => sum + p.chance, 0);
  const say = (p: number) =>
    `${Number.isInteger(p) && p < 10 ? inWords(p) : fixed(p, Number.isInteger(p) ? 0 : 1)}`;
  if (enough) {
    return `With ${say(enough.points)} more ranking points or more it is ${percent(enough.at_least)}; we collect them ${ofWeekends(share(enough.points))}.`;
  }
  if (half) {
    return `With ${say(half.points)} more ranking points or more it is ${percent(half.at_least)}; no number of them makes it sure.`;
  }
  return 'No number of ranking points that we can still collect makes it likely.';
}

export interface Branch {
  text: string;
  depth: number;
}

/** The tree as indented lines: the question that tells most first, each with the chance below it. */
export function branches(node: GoalNode, game: Game | undefined, depth = 0): Branch[] {
  if (!node.asks || !node.yes || !node.no) return [];
  const ask = inMatch(node.asks, game);
  return [
    { depth, text: `If ${ask}: ${percent(node.yes.chance)}` },
    ...branches(node.yes, game, depth + 1),
    { depth, text: `If not: ${percent(node.no.chance)}` },
    ...branches(node.no, game, depth + 1)
  ];
}

/** How easy a schedule is: the margin an average robot would have in our place. */
export function edgeWords(h: Hardness | undefined): string {
  if (!h || h.matches === 0) return 'no matches';
  const size = Math.abs(h.edge);
  if (size < 2) return 'even';
  return h.edge > 0 ? 'easy' : 'hard';
}

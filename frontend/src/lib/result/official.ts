/**
 * Whether what the venue is said to have published can be true by the game file:
 * points that no combination of actions makes, ranking points that the score
 * does not give. A difference is a slip of the keyboard, or a wrong game file.
 */
import type { Colour } from '$lib/api';
import { nameOf, type Action, type Component, type Game, type Test } from '$lib/game/types';

/** So many times at most can a robot or an alliance do something; stats/record's MaxCount. */
const MANY = 999;
/** Points with up to four digits after the point are reckoned in whole numbers. */
const SCALES = [1, 10, 100, 1000, 10_000];
const LARGEST = 200_000;

/** Something that brings `points` each time, up to `most` times. */
interface Term {
  points: number;
  most: number;
}

/** What may be added up; each inner list stands for robots that do one of these or nothing. */
interface Parts {
  terms: Term[];
  /** Choices: as many robots as there are, one option each. */
  robots: Term[][];
}

/** What a sum is made of; undefined: the game file does not say. */
function partsOf(game: Game, ids: readonly string[]): Parts | undefined {
  const parts: Parts = { terms: [], robots: [] };
  const robots = game.alliance.robots;
  for (const id of ids) {
    const a = game.actions.find((x) => x.id === id);
    if (a) addAction(parts, a, robots);
    const b = game.bonuses?.find((x) => x.id === id);
    if (b) parts.terms.push({ points: b.points, most: b.for_each ? MANY : 1 });
    if (!a && !b) return undefined;
  }
  return parts;
}

function addAction(parts: Parts, a: Action, robots: number) {
  const alone = a.by === 'alliance' ? 1 : robots;
  const cap = a.alliance_max ?? MANY * alone;
  if (a.kind === 'choice')
    parts.robots.push(
      (a.options ?? []).map((o) => ({
        points: o.points ?? 0,
        most: Math.min(o.alliance_max ?? alone, alone)
      }))
    );
  else parts.terms.push({ points: a.points ?? 0, most: a.kind === 'flag' ? Math.min(alone, cap) : cap });
}

/** All sums up to `limit`; undefined: too many to tell, or points can be lost. */
function sums(game: Game, parts: Parts, limit: number): ((value: number) => boolean) | undefined {
  const all = [...parts.terms, ...parts.robots.flat()].map((t) => t.points);
  const scale = SCALES.find((s) => all.every((p) => Math.abs(p * s - Math.round(p * s)) < 1e-9));
  if (scale === undefined || all.some((p) => p < 0) || limit * scale > LARGEST) return undefined;
  const top = Math.floor(limit * scale + 1e-9);
  let can = new Uint8Array(top + 1);
  can[0] = 1;
  for (const { points, most } of parts.terms) can = times(can, Math.round(points * scale), most);
  for (const options of parts.robots) {
    // So many robots, one option each: by how many of them have chosen something.
    let chosen = Array.from({ length: game.alliance.robots + 1 }, (_, n) =>
      n === 0 ? can : new Uint8Array(top + 1)
    );
    for (const o of options) {
      const step = Math.round(o.points * scale);
      chosen = chosen.map((_, n) => {
        const out = new Uint8Array(top + 1);
        for (let k = 0; k <= Math.min(n, o.most); k++)
          chosen[n - k]!.forEach((yes, v) => {
            if (yes && v + k * step <= top) out[v + k * step] = 1;
          });
        return out;
      });
    }
    can = new Uint8Array(top + 1).map((_, v) => (chosen.some((c) => c[v]) ? 1 : 0));
  }
  return (value) => {
    const at = Math.round(value * scale);
    return Math.abs(at - value * scale) < 1e-6 && at >= 0 && can[at] === 1;
  };
}

/** Adds up to `most` times `step` to each reachable sum. */
function times(can: Uint8Array<ArrayBuffer>, step: number, most: number): Uint8Array<ArrayBuffer> {
  if (step === 0) return can;
  const out = new Uint8Array(can.length);
  /** How often the step was needed at least to come here. */
  const used = new Int32Array(can.length).fill(-1);
  for (let v = 0; v < can.length; v++) {
    if (can[v]) used[v] = 0;
    else if (v >= step && used[v - step]! >= 0 && used[v - step]! < most) used[v] = used[v - step]! + 1;
    if (used[v]! >= 0) out[v] = 1;
  }
  return out;
}

/** The possible values nearest to an impossible one, at most two. */
function nearest(possible: (v: number) => boolean, value: number, reach: number): number[] {
  const out: number[] = [];
  for (let v = Math.ceil(value) - 1; v >= Math.max(0, value - reach); v--)
    if (possible(v)) {
      out.push(v);
      break;
    }
  for (let v = Math.floor(value) + 1; v <= value + reach; v++)
    if (possible(v)) {
      out.push(v);
      break;
    }
  return out;
}

const REACH = 30;

/** Why a component cannot have a value, in words; undefined: it can, or nobody can tell. */
export function impossiblePart(game: Game, c: Component, value: number): string | undefined {
  if (c.count) {
    if (value >= 0 && Number.isInteger(value)) return undefined;
    return `${nameOf(c)} counts pieces: a whole number, not ${value}.`;
  }
  return impossible(game, partsOf(game, c.sum ?? []), value, nameOf(c));
}

/** Why the points by fouls cannot be, in words. */
export function impossibleFouls(game: Game, value: number): string | undefined {
  const terms = (game.fouls ?? []).map((f) => ({ points: f.opponent_points ?? 0, most: MANY }));
  if (terms.length === 0) return undefined;
  return impossible(game, { terms, robots: [] }, value, 'Points from fouls');
}

function impossible(game: Game, parts: Parts | undefined, value: number, name: string): string | undefined {
  const possible = parts && sums(game, parts, value + REACH);
  if (!possible || possible(value)) return undefined;
  const near = nearest(possible, value, REACH);
  return `${name} cannot be ${value} by the game file${near.length > 0 ? `; ${near.join(' or ')} could` : ''}.`;
}

/** What is known of one side's result; undefined: not typed. */
export interface Known {
  score: number | undefined;
  fromFouls: number | undefined;
  parts: Readonly<Record<string, number | undefined>>;
}

type Sure = boolean | undefined;

function holds(game: Game, test: Test, own: Known, other: Known): Sure {
  if (test === 'win' || test === 'tie') {
    if (own.score === undefined || other.score === undefined) return undefined;
    return test === 'win' ? own.score > other.score : own.score === other.score;
  }
  if ('any' in test) return any(test.any.map((t) => holds(game, t, own, other)));
  if ('all' in test) {
    const not = any(test.all.map((t) => flip(holds(game, t, own, other))));
    return flip(not);
  }
  if ('both' in test) return undefined; // nobody publishes it
  const mine = own.parts[test.component];
  if (mine === undefined) return undefined;
  if ('more_than' in test) {
    const theirs = other.parts[test.component];
    return theirs === undefined ? undefined : mine > theirs;
  }
  const least = typeof test.at_least === 'string' ? game.values?.[test.at_least] : test.at_least;
  return least === undefined ? undefined : mine >= least;
}

const flip = (s: Sure): Sure => (s === undefined ? undefined : !s);
const any = (all: Sure[]): Sure =>
  all.includes(true) ? true : all.every((s) => s === false) ? false : undefined;

/** Why the ranking points of a side do not go with the rest, in words. */
export function impossibleRanking(
  game: Game,
  side: Colour,
  value: number,
  own: Known,
  other: Known
): string | undefined {
  // An event may give nothing to a disqualified alliance, or rank by something else in the playoffs.
  if (value === 0 || !game.ranking_points?.length) return undefined;
  let least = 0;
  let most = 0;
  const why: string[] = [];
  for (const r of game.ranking_points) {
    let sure = holds(game, r.when, own, other);
    const byFoul = game.fouls?.some((f) => f.opponent_gains === r.id && own.fromFouls !== 0);
    if (!sure && byFoul) sure = undefined;
    if (sure !== false) most += r.points;
    if (sure) {
      least += r.points;
      why.push(nameOf(r));
    }
  }
  // Win and tie exclude each other.
  if (own.score === undefined || other.score === undefined || (value >= least && value <= most))
    return undefined;
  const range = least === most ? String(least) : `${least} to ${most}`;
  return `By the game file ${side} has ${range} ranking points${why.length > 0 ? ` (${why.join(', ')})` : ''}, not ${value}.`;
}

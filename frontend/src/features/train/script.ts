/**
 * An invented match with a known answer, from the game file alone: the same
 * game, seed and length give the same. The clock is pressed together, as
 * `shortened` in lib/game/clock.ts does it, for the script and for the form.
 */
import type { Action, Game } from '$lib/game/types';
import { shortened, spans } from '$lib/game/clock';
import { missedId, optionId } from '$lib/game/sheet';

/** Of the rules below; a change of them is another version. */
export const SCRIPT_VERSION = 2;

export interface Moment {
  /** Milliseconds since the start of the training. */
  at: number;
  /** The action, "ID_missed", or "ID:option". */
  id: string;
  action: Action;
  what: 'made' | 'missed' | 'option';
}

export interface Stop {
  from: number;
  to: number;
}

export interface Script {
  seed: number;
  seconds: number;
  moments: Moment[];
  /** When the robot stands still. */
  stop: Stop | undefined;
}

export type Tallies = Record<string, { made?: number; missed?: number }>;

/** Seconds between two things that a robot does; plausible, not measured. */
const PACE = { shortest: 2.4, longest: 5.2 };
const MISS_SHARE = 0.25;

export function scriptOf(game: Game, seed: number, seconds: number): Script {
  const random = mulberry(seed);
  const stop = random() < 0.6 ? stopAt(random, seconds) : undefined;
  const moments: Moment[] = [];
  for (const { period, from, to } of spans(shortened(game, seconds))) {
    const own = game.actions.filter((a) => a.by !== 'alliance' && a.period === period.id);
    const repeated = own.filter((a) => a.kind === 'count' || a.kind === 'volume');
    for (const a of own.filter((o) => o.kind === 'flag'))
      if (random() < 0.7)
        moments.push({ at: from + (0.15 + 0.5 * random()) * (to - from), id: a.id, action: a, what: 'made' });
    for (const a of own.filter((o) => o.kind === 'choice')) {
      const options = a.options ?? [];
      const option = options[Math.floor(random() * options.length)];
      if (option)
        moments.push({
          at: from + (0.6 + 0.35 * random()) * (to - from),
          id: optionId(a.id, option.id),
          action: a,
          what: 'option'
        });
    }
    for (let at = from + 1200; repeated.length > 0 && at < to - 700;) {
      const a = repeated[Math.floor(random() * repeated.length)] as Action;
      const missed = Boolean(a.misses) && random() < MISS_SHARE;
      moments.push({ at, id: missed ? missedId(a.id) : a.id, action: a, what: missed ? 'missed' : 'made' });
      at += 1000 * (PACE.shortest + (PACE.longest - PACE.shortest) * random());
    }
  }
  return {
    seed,
    seconds,
    stop,
    moments: moments
      .filter((m) => !stop || m.at < stop.from || m.at > stop.to)
      .sort((a, b) => a.at - b.at || (a.id < b.id ? -1 : 1))
  };
}

function stopAt(random: () => number, seconds: number): Stop {
  const from = (0.3 + 0.3 * random()) * seconds * 1000;
  return { from, to: from + (0.1 + 0.08 * random()) * seconds * 1000 };
}

/** What there was to see, by action id; of a choice by "action:option". */
export function truthOf(game: Game, script: Script): Tallies {
  const out: Tallies = {};
  for (const a of game.actions) {
    if (a.by === 'alliance') continue;
    const n = (what: Moment['what']) =>
      script.moments.filter((m) => m.action.id === a.id && m.what === what).length;
    if (a.kind === 'choice') {
      const end = script.moments.findLast((m) => m.action.id === a.id);
      if (end) out[end.id] = { made: 1 };
    } else out[a.id] = a.misses ? { made: n('made'), missed: n('missed') } : { made: n('made') };
  }
  return out;
}

/** What the scout recorded, in the same form; what was not said is left out. */
export function seenOf(
  game: Game,
  truth: Tallies,
  body: { counts?: Tallies | undefined; choices?: Record<string, { option?: string }> | undefined }
): Tallies {
  const out: Tallies = {};
  for (const id of Object.keys(truth)) {
    const [action, option] = id.split(':');
    if (option === undefined) {
      const tally = body.counts?.[id];
      if (tally) out[id] = tally;
    } else {
      const said = action ? body.choices?.[action]?.option : undefined;
      if (said !== undefined) out[id] = { made: said === option ? 1 : 0 };
    }
  }
  return out;
}

/** Where the robot is: 0 to 1 along and across the field. */
export function placeAt(script: Script, ms: number): [number, number] {
  // Time spent standing does not move it.
  const { from, to } = script.stop ?? { from: ms, to: ms };
  const t = (ms < from ? ms : ms < to ? from : ms - (to - from)) / 1000;
  const phase = (script.seed % 97) / 15;
  return [0.5 + 0.36 * Math.sin(t / 1.9 + phase), 0.5 + 0.32 * Math.sin(t / 1.3 + 2 * phase)];
}

/** A small random source (mulberry32, public domain): the same seed gives the same numbers. */
function mulberry(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

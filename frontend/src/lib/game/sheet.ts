/**
 * What a scout has entered about one robot in one match, as plain data, and what
 * taps do to it. Nothing here knows a screen; observed.ts makes the record of it.
 *
 * The time line is the source: counts, choices, fouls and seconds are derived
 * from it, until somebody corrects them by hand. Its names are those that
 * stats/record/check.go takes: an action, "ID_missed", "ID:option" of a choice,
 * "ID_tried", a foul, and a question with seconds or a flag (+1 begins, −1 ends).
 */
import type { Action, Game, Question } from './types';

/** A place on the field in metres, seen from red's side. */
export type Spot = [number, number];

/** One moment of the time line. */
export interface Entry {
  /** Milliseconds since 1970 by the device's clock. */
  at: number;
  id: string;
  /** Above 0: done, or begun; below 0: taken back, or ended. */
  step: number;
  place?: Spot;
}

export interface Chosen {
  option?: string;
  tried?: boolean;
}
export type Answer = number | boolean | string;

export interface Sheet {
  match: string;
  play: number;
  team: string;
  scout: string;
  /** When the match started, milliseconds since 1970; absent: no tap yet. */
  started?: number;
  /** This scout watched from and to here only, milliseconds since 1970; absent: the whole match. */
  from?: number;
  to?: number;
  /** Where the robot stood at the start. */
  startSpot?: Spot;
  entries: Entry[];
  /** Counts set by hand; they win over the time line. By id, "ID_missed" too. */
  byHand: Record<string, number>;
  /** Choices set by hand. */
  chosenByHand: Record<string, Chosen>;
  answers: Record<string, Answer>;
  /** Ids of actions, "ID_missed" and fouls that were not watched: they are left out, which is not zero. */
  unwatched: string[];
  absent: boolean;
  note: string;
}

export const missedId = (action: string): string => `${action}_missed`;
export const triedId = (action: string): string => `${action}_tried`;
export const optionId = (action: string, option: string): string => `${action}:${option}`;

/** Questions whose seconds one toggle keeps, in the order of its buttons. */
const SECONDS = ['feeding_seconds', 'defending_seconds', 'stopped_seconds'];
/** The role of the question that says that the robot was out of sight. */
export const LOST_SIGHT = 'lost_sight';
/** The most that one count can be; MaxCount in stats/record. */
export const MOST = 999;

export function emptySheet(match: string, play: number, team: string, scout: string): Sheet {
  return {
    match,
    play,
    team,
    scout,
    entries: [],
    byHand: {},
    chosenByHand: {},
    answers: {},
    unwatched: [],
    absent: false,
    note: ''
  };
}

/** The match started now, unless it did before. */
export function start(s: Sheet, at: number): Sheet {
  return s.started === undefined ? { ...s, started: at } : s;
}

/** Puts the start earlier (ms > 0: the first tap came late) or later; the times of taps follow. */
export function nudge(s: Sheet, ms: number): Sheet {
  return s.started === undefined ? s : { ...s, started: s.started - ms };
}

function add(s: Sheet, ...entries: Entry[]): Sheet {
  const [first] = entries;
  if (!first) return s;
  const of = subject(first.id);
  const longer = [...s.entries, ...entries];
  follow(s.entries, longer, entries);
  return start({ ...s, entries: longer, unwatched: watchedNow(s, of) }, first.at);
}

/** What a time line adds up to. */
interface Sum {
  /** The steps of each id, added up. */
  steps: Map<string, number>;
  /** What was done and not taken back, in order. */
  open: Entry[];
}

/**
 * Every card asks for its count after every tap, so sums are kept beside their
 * time lines, which nothing changes once they are made.
 */
const sums = new WeakMap<readonly Entry[], Sum>();

function sumOf(entries: readonly Entry[]): Sum {
  let sum = sums.get(entries);
  if (!sum) {
    sum = { steps: new Map(), open: [] };
    for (const e of entries) count(sum, e);
    sums.set(entries, sum);
  }
  return sum;
}

/** A time line got longer: its sum goes on from where it stood, and the shorter one has to ask anew. */
function follow(shorter: readonly Entry[], longer: readonly Entry[], added: readonly Entry[]): void {
  const sum = sums.get(shorter);
  if (!sum) return;
  sums.delete(shorter);
  for (const e of added) count(sum, e);
  sums.set(longer, sum);
}

function count({ steps, open }: Sum, e: Entry): void {
  steps.set(e.id, (steps.get(e.id) ?? 0) + e.step);
  if (e.step > 0) {
    open.push(e);
    return;
  }
  // A step back cancels the newest of its kind before it.
  const at = open.findLastIndex((o) => o.id === e.id && o.step === -e.step);
  if (at >= 0) open.splice(at, 1);
}

/** What is left unwatched once something was entered about an action or foul. */
const watchedNow = (s: Sheet, of: string): string[] =>
  s.unwatched.length > 0 ? s.unwatched.filter((u) => subject(u) !== of) : s.unwatched;

/** The action, foul or question that a name of the time line belongs to. */
export function subject(id: string): string {
  return id.replace(/(_missed|_tried|:.*)$/, '');
}

/** One tap; the first starts the clock. A count that was set by hand moves along. */
export function tap(s: Sheet, at: number, id: string, step = 1, place?: Spot): Sheet {
  const byHand =
    id in s.byHand
      ? { ...s.byHand, [id]: Math.min(MOST, Math.max(0, (s.byHand[id] ?? 0) + step)) }
      : s.byHand;
  return add({ ...s, byHand }, place ? { at, id, step, place } : { at, id, step });
}

/** The last tap of a batch becomes a larger one, while it goes on; `entry` is the one that tap made. */
export function grow(s: Sheet, entry: Entry, step: number): Sheet {
  const byHand =
    entry.id in s.byHand
      ? { ...s.byHand, [entry.id]: Math.min(MOST, (s.byHand[entry.id] ?? 0) + step - entry.step) }
      : s.byHand;
  return { ...s, byHand, entries: s.entries.map((e) => (e === entry ? { ...e, step } : e)) };
}

/** Says where a tap was. */
export const putAt = (s: Sheet, entry: Entry, place: Spot): Sheet => ({
  ...s,
  entries: s.entries.map((e) => (e === entry ? { ...e, place } : e))
});

/** Takes one tap back; both stay on the time line. */
export const takeBack = (s: Sheet, at: number, entry: Entry): Sheet => tap(s, at, entry.id, -entry.step);

/** The last taps that can be taken back, newest first; `ids` says what counts as a tap. */
export function recent(s: Sheet, ids: ReadonlySet<string>, limit: number): Entry[] {
  const { open } = sumOf(s.entries);
  const out: Entry[] = [];
  for (let i = open.length - 1; i >= 0 && out.length < limit; i--) {
    const e = open[i];
    if (e && ids.has(e.id)) out.push(e);
  }
  return out;
}

/** Everything that shows in the strip of last taps: counts, misses, batches, flags, fouls. */
export function tappable(game: Game): Set<string> {
  const ids = new Set((game.fouls ?? []).map((f) => f.id));
  for (const a of game.actions) {
    if (a.kind === 'choice') continue;
    ids.add(a.id);
    if (a.misses) ids.add(missedId(a.id));
  }
  return ids;
}

/** What the count of an id stands at: by hand, else by the time line. */
export const countOf = (s: Sheet, id: string): number => s.byHand[id] ?? tapped(s, id);

/** What the time line alone says of a count. */
export const tapped = (s: Sheet, id: string): number => Math.max(0, sumOf(s.entries).steps.get(id) ?? 0);

/** Whether anything was entered about an id. */
export const touched = (s: Sheet, id: string): boolean => id in s.byHand || sumOf(s.entries).steps.has(id);

/** The answer to a choice so far; {} while nothing was said. */
export function chosenOf(s: Sheet, action: Action): Chosen {
  return s.chosenByHand[action.id] ?? tappedChoice(s, action);
}

/** What the time line alone says of a choice. */
export function tappedChoice(s: Sheet, action: Action): Chosen {
  const out: Chosen = {};
  for (const e of s.entries) {
    const option = action.options?.find((o) => optionId(action.id, o.id) === e.id)?.id;
    if (option !== undefined && e.step > 0) out.option = option;
    else if (option !== undefined && out.option === option) delete out.option;
    else if (e.id === triedId(action.id)) out.tried = e.step > 0;
  }
  return out;
}

/** Chooses an option, or none. */
export function choose(s: Sheet, at: number, action: Action, option: string | undefined): Sheet {
  const before = chosenOf(s, action).option;
  const entries: Entry[] = [];
  if (before !== undefined) entries.push({ at, id: optionId(action.id, before), step: -1 });
  if (option !== undefined) entries.push({ at, id: optionId(action.id, option), step: 1 });
  return add(
    followChoice(s, action, (c) => ({ ...c, option })),
    ...entries
  );
}

export function setTried(s: Sheet, at: number, action: Action, yes: boolean): Sheet {
  return add(
    followChoice(s, action, (c) => ({ ...c, tried: yes })),
    { at, id: triedId(action.id), step: yes ? 1 : -1 }
  );
}

/** A choice that was set by hand moves along with the taps. */
function followChoice(s: Sheet, action: Action, change: (c: Chosen) => Chosen): Sheet {
  const hand = s.chosenByHand[action.id];
  return hand ? { ...s, chosenByHand: { ...s.chosenByHand, [action.id]: change(hand) } } : s;
}

/** Sets a choice by hand, after the match or in a correction. */
export function chooseByHand(s: Sheet, action: Action, chosen: Chosen): Sheet {
  return {
    ...s,
    chosenByHand: { ...s.chosenByHand, [action.id]: chosen },
    unwatched: watchedNow(s, action.id)
  };
}

/** Sets a count by hand, after the match or in a correction. */
export function setByHand(s: Sheet, id: string, count: number): Sheet {
  const limited = Math.min(MOST, Math.max(0, Math.round(count)));
  const of = subject(id);
  return { ...s, byHand: { ...s.byHand, [id]: limited }, unwatched: watchedNow(s, of) };
}

export function setWatched(s: Sheet, ids: string[], yes: boolean): Sheet {
  const rest = s.unwatched.filter((id) => !ids.includes(id));
  return { ...s, unwatched: yes ? rest : [...rest, ...ids] };
}

/** An answer by hand; undefined takes it away again. */
export function setAnswer(s: Sheet, question: string, value: Answer | undefined): Sheet {
  const answers = { ...s.answers };
  if (value === undefined || value === '') delete answers[question];
  else answers[question] = value;
  return { ...s, answers };
}

export const matchQuestions = (game: Game): Question[] =>
  (game.questions ?? []).filter((q) => q.when === 'match' && q.kind !== 'best_worst');

/** The questions about seconds that the toggle keeps: feeding, defending, stopped. */
export function doings(game: Game): Question[] {
  const asked = matchQuestions(game);
  return SECONDS.flatMap((role) => asked.filter((q) => q.role === role).slice(0, 1));
}

export const lostSight = (game: Game): Question | undefined =>
  matchQuestions(game).find((q) => q.role === LOST_SIGHT);

/** The question about the start position; its place stands on the time line. */
export const startQuestion = (game: Game): Question | undefined =>
  matchQuestions(game).find((q) => q.role === 'start_position');

/** Questions that the form answers by itself from what was tapped. */
export const isLed = (q: Question): boolean =>
  q.role !== undefined && (SECONDS.includes(q.role) || q.role === LOST_SIGHT);

/** Whether something that begins and ends is going on. */
export const isOn = (s: Sheet, question: string): boolean => tapped(s, question) > 0;

/** The robot does this from now on; undefined: what it usually does, scoring. */
export function nowDoing(s: Sheet, at: number, game: Game, question: string | undefined): Sheet {
  const ends = doings(game)
    .filter((q) => q.id !== question && isOn(s, q.id))
    .map((q): Entry => ({ at, id: q.id, step: -1 }));
  const begins = question !== undefined && !isOn(s, question) ? [{ at, id: question, step: 1 }] : [];
  return start(add(s, ...ends, ...begins), at);
}

/** Turns a flag that begins and ends (lost sight) on or off. */
export const toggle = (s: Sheet, at: number, question: string): Sheet =>
  add(s, { at, id: question, step: isOn(s, question) ? -1 : 1 });

/** Something (lost sight) was so for a while that is over; in its order on the time line. */
export function away(s: Sheet, question: string, from: number, to: number): Sheet {
  const stretch = [
    { at: from, id: question, step: 1 },
    { at: to, id: question, step: -1 }
  ];
  return { ...s, entries: [...s.entries, ...stretch].toSorted((a, b) => a.at - b.at) };
}

/** Seconds that something went on, until `end` (ms since the start of the match). */
export function secondsOf(s: Sheet, question: string, end: number): number {
  if (s.started === undefined || !sumOf(s.entries).steps.has(question)) return 0;
  let ms = 0;
  let from: number | undefined;
  for (const e of s.entries) {
    if (e.id !== question) continue;
    const at = Math.min(end, Math.max(0, e.at - s.started));
    if (e.step > 0) from ??= at;
    else if (from !== undefined) {
      ms += Math.max(0, at - from);
      from = undefined;
    }
  }
  if (from !== undefined) ms += Math.max(0, end - from);
  return Math.round(ms / 1000);
}

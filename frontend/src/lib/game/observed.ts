/** From a sheet to the body of its record, and back to correct it. */
import { spans } from './clock';
import {
  MOST,
  LOST_SIGHT,
  chosenOf,
  countOf,
  emptySheet,
  isLed,
  matchQuestions,
  missedId,
  secondsOf,
  startQuestion,
  tapped,
  tappedChoice,
  touched,
  type Answer,
  type Chosen,
  type Entry,
  type Sheet
} from './sheet';
import type { Game } from './types';

/** A record's body; see Observation in stats/record. */
export interface Observed {
  match: string;
  play?: number;
  team: string;
  scout: string;
  counts?: Record<string, { made?: number; missed?: number }>;
  choices?: Record<string, Chosen>;
  fouls?: Record<string, number>;
  answers?: Record<string, Answer>;
  absent?: boolean;
  note?: string;
  from?: number;
  to?: number;
  taps?: ([number, string, number] | [number, string, number, number, number])[];
  edited?: boolean;
  discarded?: boolean;
}

/** The record's body. `end`: ms since the start at which the match, or the watching, was over. */
export function observed(game: Game, s: Sheet, end: number): Observed {
  const out: Observed = { match: s.match, team: s.team, scout: s.scout };
  if (s.play > 1) out.play = s.play;
  const note = s.note.trim();
  if (note) out.note = note;
  if (s.absent) return { ...out, absent: true };

  const part = partOf(s);
  if (part.to !== undefined) end = Math.min(end, part.to);
  const { counts, choices } = did(game, s, missedPeriods(game, part));
  if (Object.keys(counts).length > 0) out.counts = counts;
  if (Object.keys(choices).length > 0) out.choices = choices;
  const fouls = (game.fouls ?? []).filter((f) => !s.unwatched.includes(f.id));
  if (fouls.length > 0) out.fouls = Object.fromEntries(fouls.map((f) => [f.id, countOf(s, f.id)]));
  const answers = answersOf(game, s, end);
  if (Object.keys(answers).length > 0) out.answers = answers;
  const taps = tapsOf(game, s);
  if (taps.length > 0) out.taps = taps;
  Object.assign(out, part);
  if (isEdited(game, s)) out.edited = true;
  return out;
}

/** The part of the match that was watched, in ms since its start. */
export function partOf(s: Sheet): { from?: number; to?: number } {
  const since = (at: number) => Math.max(0, Math.round(at - (s.started ?? at)));
  const from = s.from === undefined ? 0 : since(s.from);
  return {
    ...(from > 0 ? { from } : {}),
    ...(s.to === undefined ? {} : { to: Math.max(from, since(s.to)) })
  };
}

/** Periods of which nothing was watched. */
function missedPeriods(game: Game, { from = 0, to = Infinity }: { from?: number; to?: number }): Set<string> {
  return new Set(
    spans(game)
      .filter((span) => span.to <= from || span.from >= to)
      .map((span) => span.period.id)
  );
}

function did(
  game: Game,
  s: Sheet,
  missed: ReadonlySet<string>
): { counts: NonNullable<Observed['counts']>; choices: Record<string, Chosen> } {
  const counts: NonNullable<Observed['counts']> = {};
  const choices: Record<string, Chosen> = {};
  for (const action of game.actions) {
    const watched = (id: string) => !s.unwatched.includes(id);
    if (action.kind === 'choice') {
      if (!watched(action.id)) continue;
      const { option, tried } = chosenOf(s, action);
      if (option === undefined && !tried) continue;
      choices[action.id] = {
        ...(option === undefined ? {} : { option }),
        ...(action.tried ? { tried: tried ?? false } : {})
      };
      continue;
    }
    // What belongs to the whole alliance is said by whoever saw it, and what a period holds by
    // whoever watched that; silence is no zero.
    const silent = !touched(s, action.id) && !touched(s, missedId(action.id));
    if (silent && (action.by === 'alliance' || missed.has(action.period ?? ''))) continue;
    const tally: { made?: number; missed?: number } = {};
    const misses = missedId(action.id);
    if (watched(action.id)) tally.made = Math.min(action.kind === 'flag' ? 1 : MOST, countOf(s, action.id));
    if (action.misses && watched(misses)) tally.missed = countOf(s, misses);
    if (Object.keys(tally).length > 0) counts[action.id] = tally;
  }
  return { counts, choices };
}

function tapsOf(game: Game, s: Sheet): NonNullable<Observed['taps']> {
  const start = startQuestion(game);
  const stood: Entry[] =
    s.startSpot && start ? [{ at: s.started ?? 0, id: start.id, step: 1, place: s.startSpot }] : [];
  return [...stood, ...s.entries].map((e) => {
    const ms = Math.max(0, Math.round(e.at - (s.started ?? e.at)));
    return e.place ? [ms, e.id, e.step, ...e.place] : [ms, e.id, e.step];
  });
}

/** Whether something counts that the time line does not say. */
function isEdited(game: Game, s: Sheet): boolean {
  return (
    Object.entries(s.byHand).some(([id, n]) => n !== tapped(s, id)) ||
    s.entries.some((e) => s.unwatched.includes(e.id)) ||
    game.actions.some((a) => {
      const hand = s.chosenByHand[a.id];
      const line = tappedChoice(s, a);
      return hand && (hand.option !== line.option || (hand.tried ?? false) !== (line.tried ?? false));
    })
  );
}

/** The answers as they stand: by hand, else what the time line says. */
export function answersOf(game: Game, s: Sheet, end: number): Record<string, Answer> {
  const out: Record<string, Answer> = {};
  for (const q of matchQuestions(game)) {
    const given = s.answers[q.id];
    if (given !== undefined) out[q.id] = given;
    else if (s.started === undefined || !isLed(q)) continue;
    else if (q.role === LOST_SIGHT) {
      if (touched(s, q.id)) out[q.id] = true;
    } else {
      // The toggle was before the scout's eyes: never touched means no seconds.
      out[q.id] = Math.min(q.max ?? Infinity, Math.max(q.min ?? 0, secondsOf(s, q.id, end)));
    }
  }
  return out;
}

/** A saved record as a sheet, to correct it. */
export function sheetOf(game: Game, o: Observed): Sheet {
  const s = emptySheet(o.match, o.play || 1, o.team, o.scout);
  s.absent = o.absent ?? false;
  s.note = o.note ?? '';
  for (const q of matchQuestions(game)) {
    const given = o.answers?.[q.id];
    // An option that a corrected game file took away has to be answered anew.
    const gone = q.kind === 'choice' && !q.options?.includes(String(given));
    if (given !== undefined && !gone) s.answers[q.id] = given;
  }
  s.entries = (o.taps ?? []).map(([at, id, step, x, y]) =>
    x !== undefined && y !== undefined ? { at, id, step, place: [x, y] } : { at, id, step }
  );
  const start = startQuestion(game)?.id;
  s.startSpot = s.entries.find((e) => e.id === start)?.place;
  s.entries = s.entries.filter((e) => e.id !== start);
  s.from = o.from;
  s.to = o.to;
  if (s.entries.length > 0 || s.from !== undefined || s.to !== undefined) s.started = 0;
  if (o.absent) return s;
  const keep = (id: string, count: number | undefined) => {
    if (count === undefined) s.unwatched.push(id);
    else if (count !== tapped(s, id)) s.byHand[id] = count;
  };
  for (const a of game.actions) {
    if (a.kind === 'choice') {
      const chosen = o.choices?.[a.id];
      if (chosen) s.chosenByHand[a.id] = { ...chosen };
      continue;
    }
    const { made, missed } = o.counts?.[a.id] ?? {};
    if (made === undefined && missed === undefined && a.by === 'alliance') continue;
    keep(a.id, made);
    if (a.misses) keep(missedId(a.id), missed);
    // By hand even where it is zero: an alliance's action was answered.
    if (a.by === 'alliance' && made !== undefined) s.byHand[a.id] = made;
  }
  for (const f of game.fouls ?? []) {
    keep(f.id, o.fouls?.[f.id]);
  }
  return s;
}

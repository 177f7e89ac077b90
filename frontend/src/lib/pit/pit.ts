/** What visitors of pits brought home, taken together. Claims are what teams say, never evidence. */
import type { PitBody, PitRoutine, TeamEstimate } from '$lib/api';
import type { Game, Question } from '$lib/game/types';

/** A report and when it was made, by the clock of its device. */
export interface Report {
  id: string;
  body: PitBody;
  at: string;
}

export interface Pit {
  team: string;
  /** Who was there, latest first. */
  by: string[];
  at: string;
  answers: Record<string, unknown>;
  photos: string[];
  routines: PitRoutine[];
  notes: { by: string; text: string }[];
  again: boolean;
}

/** The pit questions of a game. */
export const pitQuestions = (game: Game): Question[] =>
  (game.questions ?? []).filter((q) => q.when === 'pit');

/** What is known of a robot's pit: of each question the latest answer; undefined: nobody was there. */
export function pitOf(reports: readonly Report[], team: string): Pit | undefined {
  const mine = reports
    .filter((r) => r.body.team === team && !r.body.discarded)
    .sort((a, b) => (a.at < b.at ? 1 : -1));
  const [latest] = mine;
  if (!latest) return undefined;
  const routines = new Map<string, PitRoutine>();
  for (const r of mine.toReversed()) for (const x of r.body.routines ?? []) routines.set(x.name, x);
  return {
    team,
    by: [...new Set(mine.map((r) => r.body.scout))],
    at: latest.at,
    answers: Object.assign({}, ...mine.toReversed().map((r) => r.body.answers ?? {})) as Pit['answers'],
    photos: [...new Set(mine.flatMap((r) => r.body.photos ?? []))],
    routines: [...routines.values()],
    notes: mine.flatMap((r) => (r.body.note ? [{ by: r.body.scout, text: r.body.note }] : [])),
    // Whoever goes again and says nothing of it has been there again.
    again: latest.body.again ?? false
  };
}

export interface Claim {
  /** Of the question in the game file. */
  id: string;
  question: string;
  says: number;
  /** What was seen, a match; undefined: it was not watched yet. */
  seen?: { mean: number; sd: number };
}

/** Claims beside what was seen. */
export function claimsOf(game: Game, pit: Pit | undefined, estimate: TeamEstimate | undefined): Claim[] {
  return pitQuestions(game).flatMap((q) => {
    const says = pit?.answers[q.id];
    if (q.role !== 'claim' || !q.action || typeof says !== 'number') return [];
    const a = estimate?.actions[q.action];
    return [{ id: q.id, question: q.name ?? q.id, says, ...(a ? { seen: { mean: a.mean, sd: a.sd } } : {}) }];
  });
}

export type Visit = 'missing' | 'again' | 'visited';

/** Where somebody should still go. */
export const visitOf = (pit: Pit | undefined): Visit => (!pit ? 'missing' : pit.again ? 'again' : 'visited');

/** A pit answer as text; empty: none. */
export function answerText(value: unknown): string {
  if (value === true) return 'yes';
  if (value === false) return 'no';
  return value === undefined || value === null ? '' : String(value);
}

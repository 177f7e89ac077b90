/**
 * How the cards of one page of the form share the room there is, so that
 * nothing scrolls. The order follows the game file and never moves.
 */
import { pageOf } from './clock';
import { matchQuestions } from './sheet';
import type { Action, Game, Question } from './types';

export type Card =
  { kind: 'action'; id: string; action: Action } | { kind: 'question'; id: string; question: Question };

/**
 * The cards of a page: start positions on the first, what belongs to no period on each.
 * `whole`: what belongs to the whole alliance too, which one of its scouts is asked.
 */
export function cardsOf(game: Game, page: string, whole = true): Card[] {
  const first = game.periods.find((p) => !p.within)?.id;
  const asked =
    page === first
      ? matchQuestions(game).filter((q) => q.role === 'start_position' && q.kind === 'choice')
      : [];
  return [
    ...asked.map((question): Card => ({ kind: 'question', id: question.id, question })),
    ...game.actions
      .filter((a) => (!a.period || pageOf(game, a.period) === page) && (whole || a.by !== 'alliance'))
      .map((action): Card => ({ kind: 'action', id: action.id, action }))
  ];
}

interface Need {
  width: number;
  height: number;
}

const BUTTON = 56;
const NAME = 30;
/** The most columns; narrow ones only let wide cards share a row better. */
const FINEST = 12;
/** A page wider than this has two columns or more. */
const TWO = 560;

/** The least room a card needs, in CSS pixels, with targets of 56 px. */
export function needOf(card: Card): Need {
  const row = (buttons: number, width: number): Need => ({
    width: buttons * width + 24,
    height: NAME + BUTTON + 14
  });
  if (card.kind === 'question') return row(card.question.options?.length ?? 1, 84);
  const { action } = card;
  if (action.kind === 'choice') return row((action.options?.length ?? 1) + (action.tried ? 1 : 0), 84);
  if (action.kind === 'volume') return row(action.steps?.length || 1, 64);
  return { width: action.misses ? 220 : 150, height: 76 };
}

export interface Layout {
  columns: number;
  /** How many columns each card takes, in order. */
  spans: number[];
  rows: number;
  /** All cards have the room they need. */
  fits: boolean;
}

/** As many columns as it takes to fit, and no more: wide cards are hit without looking. */
export function layOut(needs: Need[], width: number, height: number, gap: number): Layout {
  let best: Layout = { columns: 1, spans: needs.map(() => 1), rows: Math.max(1, needs.length), fits: false };
  let bestHeight = -1;
  // Two columns at least where there is room: places in a plane are told apart without reading.
  const least = needs.length > 2 && width > TWO ? 2 : 1;
  for (let columns = least; columns <= FINEST; columns++) {
    const cell = (width - gap * (columns - 1)) / columns;
    const spans = needs.map((n) => Math.min(columns, Math.max(1, Math.ceil((n.width + gap) / (cell + gap)))));
    const rows = fill(spans, columns);
    const room = (height - gap * (rows - 1)) / rows;
    const fits = needs.every(
      (n, i) => n.height <= room && n.width <= (spans[i] ?? 1) * (cell + gap) - gap + 0.5
    );
    const layout = { columns, spans, rows, fits };
    // The first that leaves comfortable room wins; else the one with the most room.
    if (fits && room >= 108) return layout;
    if ((fits && !best.fits) || (fits === best.fits && room > bestHeight)) {
      best = layout;
      bestHeight = room;
    }
  }
  return best;
}

/** Puts cards into rows in order; the last of each row takes what is left. Returns the number of rows. */
function fill(spans: number[], columns: number): number {
  let rows = 1;
  let used = 0;
  spans.forEach((span, i) => {
    if (used + span > columns) {
      if (i > 0) spans[i - 1] = (spans[i - 1] ?? 1) + columns - used;
      rows++;
      used = 0;
    }
    used += span;
  });
  if (spans.length > 0) spans[spans.length - 1] = (spans.at(-1) ?? 1) + columns - used;
  return rows;
}

// The official result as it is typed: texts in, the body of a record out, and
// every problem said in words beside its field.

import type { Alliance, Colour, Forecast, Match, ResultBody } from '$lib/api';
import { nameOf, type Game } from '$lib/game/types';
import { impossibleFouls, impossiblePart, impossibleRanking, type Known } from './official';

/** What stands in the fields of one alliance. Empty texts are "not published". */
export interface SideForm {
  score: string;
  fromFouls: string;
  components: Record<string, string>;
  rankingPoints: string;
  absent: string[];
  disqualified: string[];
  cards: string[];
}

export type ResultForm = Record<Colour, SideForm>;

export interface FieldProblem {
  side: Colour;
  field: string; // "score", "from_fouls", "ranking_points" or "component:ID"
  message: string;
}

const numberText = (value: number | undefined | null) =>
  value === undefined || value === null ? '' : String(value);

function sideForm(game: Game, alliance: Alliance): SideForm {
  const result = alliance.result;
  return {
    score: numberText(result?.score),
    fromFouls: numberText(result?.from_fouls),
    components: Object.fromEntries(
      (game.components ?? []).map((c) => [c.id, numberText(result?.components?.[c.id])])
    ),
    rankingPoints: numberText(result?.ranking_points),
    absent: [...(alliance.absent ?? [])],
    disqualified: [...(alliance.disqualified ?? [])],
    cards: [...(alliance.cards ?? [])]
  };
}

/** The form for a match: empty for one that was not played, else to be corrected. */
export function formOf(game: Game, match: Match): ResultForm {
  return { red: sideForm(game, match.red), blue: sideForm(game, match.blue) };
}

/** The form of a replay: the same line-ups, nothing typed yet. */
export function emptyForm(game: Game): ResultForm {
  const none: Alliance = { teams: [] };
  return { red: sideForm(game, none), blue: sideForm(game, none) };
}

const plainNumber = /^[-−]?\d{1,6}(?:[.,]\d{1,4})?$/;

/** Reads a typed number: a decimal point or comma, a hyphen or a real minus. */
export function readNumber(text: string): number | undefined {
  const trimmed = text.trim();
  if (!plainNumber.test(trimmed)) return undefined;
  return Number(trimmed.replace('−', '-').replace(',', '.'));
}

interface Field {
  field: string;
  name: string;
  text: string;
}

function fieldsOf(game: Game, form: SideForm): Field[] {
  return [
    { field: 'score', name: 'score', text: form.score },
    { field: 'from_fouls', name: 'points from fouls', text: form.fromFouls },
    ...(game.components ?? []).map((c) => ({
      field: `component:${c.id}`,
      name: nameOf(c),
      text: form.components[c.id] ?? ''
    })),
    { field: 'ranking_points', name: 'ranking points', text: form.rankingPoints }
  ];
}

/** What must be mended before the result can be saved. */
export function problemsOf(game: Game, form: ResultForm): FieldProblem[] {
  const out: FieldProblem[] = [];
  for (const side of ['red', 'blue'] as const) {
    for (const f of fieldsOf(game, form[side])) {
      if (f.text.trim() === '') {
        if (f.field === 'score') {
          out.push({ side, field: f.field, message: `Type ${side}’s score.` });
        }
        continue;
      }
      const value = readNumber(f.text);
      if (value === undefined) {
        out.push({ side, field: f.field, message: `“${f.text.trim()}” is not a number: type digits only.` });
      } else if (f.field !== 'score' && !f.field.startsWith('component:') && value < 0) {
        out.push({ side, field: f.field, message: `${capital(f.name)} cannot be below 0.` });
      }
    }
  }
  return out;
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

const opposite = { red: 'blue', blue: 'red' } as const;

const knownOf = (f: SideForm): Known => ({
  score: readNumber(f.score),
  fromFouls: readNumber(f.fromFouls),
  parts: Object.fromEntries(Object.entries(f.components).map(([id, text]) => [id, readNumber(text)]))
});

/** What looks mistyped but may be true: it is said, and can be saved all the same. */
export function doubtsOf(game: Game, form: ResultForm, forecast?: Forecast): FieldProblem[] {
  const out: FieldProblem[] = [];
  for (const side of ['red', 'blue'] as const) {
    const f = form[side];
    const score = readNumber(f.score);
    if (score === undefined) continue;
    const fouls = readNumber(f.fromFouls) ?? 0;
    if (fouls > score) {
      out.push({
        side,
        field: 'from_fouls',
        message: `More points from fouls (${fouls}) than the score (${score}).`
      });
    }
    const parts = pointComponents(game);
    if (parts.length > 0) {
      const sum = parts.reduce((total, id) => total + (readNumber(f.components[id] ?? '') ?? 0), 0);
      if (sum + fouls > score) {
        out.push({
          side,
          field: 'score',
          message: `The parts and fouls add up to ${sum + fouls}, more than the score of ${score}.`
        });
      }
    }
    for (const c of game.components ?? []) {
      const value = readNumber(f.components[c.id] ?? '');
      const why = value === undefined ? undefined : impossiblePart(game, c, value);
      if (why) out.push({ side, field: `component:${c.id}`, message: why });
    }
    const noFouls = impossibleFouls(game, fouls);
    if (noFouls) out.push({ side, field: 'from_fouls', message: noFouls });
    const ranking = readNumber(f.rankingPoints);
    if (ranking !== undefined) {
      const why = impossibleRanking(game, side, ranking, knownOf(form[side]), knownOf(form[opposite[side]]));
      if (why) out.push({ side, field: 'ranking_points', message: why });
    }
    const expected = forecast?.[side];
    if (expected && expected.sd > 0 && Math.abs(score - expected.mean) > 4 * expected.sd) {
      out.push({
        side,
        field: 'score',
        message: `${score} is far from the ${Math.round(expected.mean)} expected of ${side}. Typed right?`
      });
    }
  }
  return out;
}

/** Components in points that share no action, so that their sum stays within the score. */
function pointComponents(game: Game): string[] {
  const used = new Set<string>();
  const ids: string[] = [];
  for (const c of game.components ?? []) {
    if (!c.sum || c.sum.some((id) => used.has(id))) continue;
    for (const id of c.sum) used.add(id);
    ids.push(c.id);
  }
  return ids;
}

/**
 * The bodies of the two records. What the form does not ask (official values
 * per robot) is kept from `before`, the result that is being corrected.
 * Call it only when problemsOf says nothing.
 */
export function bodiesOf(
  game: Game,
  match: Match,
  play: number,
  form: ResultForm,
  before?: Match
): Record<Colour, ResultBody> {
  const body = (side: Colour): ResultBody => {
    const f = form[side];
    const old = before?.[side];
    const out: ResultBody = { match: match.match, play, alliance: side, score: readNumber(f.score) ?? 0 };
    const fouls = readNumber(f.fromFouls);
    if (fouls !== undefined) out.from_fouls = fouls;
    const components: Record<string, number> = {};
    for (const c of game.components ?? []) {
      const value = readNumber(f.components[c.id] ?? '');
      if (value !== undefined) components[c.id] = value;
    }
    if (Object.keys(components).length > 0) out.components = components;
    const points = readNumber(f.rankingPoints);
    if (points !== undefined) out.ranking_points = points;
    if (old?.result?.robots) out.robots = old.result.robots;
    if (f.absent.length > 0) out.absent = f.absent;
    if (f.disqualified.length > 0) out.disqualified = f.disqualified;
    if (f.cards.length > 0) out.cards = f.cards;
    return out;
  };
  return { red: body('red'), blue: body('blue') };
}

/**
 * The lines of a sheet of paper for one robot in one match, as the game file
 * has them, and the record that a typed sheet becomes. Paper and keyboard walk
 * the same lines in the same order.
 */
import { type Observed } from '$lib/game/observed';
import { MOST, matchQuestions, missedId } from '$lib/game/sheet';
import { nameOf, sentence, type Game } from '$lib/game/types';

/** What can be written on a line. */
export type LineKind = 'count' | 'flag' | 'choice' | 'number' | 'text';

export interface Line {
  /** As in a record: an action, "ID_missed", "ID_tried", a foul or a question. */
  id: string;
  name: string;
  kind: LineKind;
  of: 'made' | 'missed' | 'option' | 'tried' | 'foul' | 'answer';
  /** The action, foul or question it belongs to. */
  subject: string;
  /** Of a choice: what is written for each, 0, 1, 2 … */
  options?: { id: string; name: string }[];
  min?: number;
  max?: number;
}

export interface Group {
  id: string;
  name: string;
  lines: Line[];
}

/** All lines, grouped as the match runs; start positions stand first. */
export function groupsOf(game: Game): Group[] {
  const asked = matchQuestions(game).map((q): Line => ({
    id: q.id,
    name: nameOf(q),
    of: 'answer',
    subject: q.id,
    kind: q.kind === 'choice' || q.kind === 'flag' || q.kind === 'number' ? q.kind : 'text',
    ...(q.kind === 'choice' ? { options: (q.options ?? []).map((id) => ({ id, name: sentence(id) })) } : {}),
    ...(q.min === undefined ? {} : { min: q.min }),
    ...(q.max === undefined ? {} : { max: q.max })
  }));
  const starts = new Set(matchQuestions(game).flatMap((q) => (q.role === 'start_position' ? [q.id] : [])));
  const actions = (period: string | undefined) =>
    game.actions
      .filter((a) => (a.period ?? undefined) === period)
      .flatMap((a): Line[] => {
        const line = { id: a.id, name: nameOf(a), subject: a.id };
        if (a.kind === 'choice') {
          const options = (a.options ?? []).map((o) => ({ id: o.id, name: nameOf(o) }));
          return [
            { ...line, kind: 'choice', of: 'option', options },
            ...(a.tried
              ? [{ ...line, id: `${a.id}_tried`, name: 'Tried, failed', kind: 'flag', of: 'tried' } as const]
              : [])
          ];
        }
        const missed = { ...line, id: missedId(a.id), name: 'missed', kind: 'count', of: 'missed' } as const;
        const made = { ...line, kind: a.kind === 'flag' ? 'flag' : 'count', of: 'made' } as const;
        return a.misses ? [made, missed] : [made];
      });
  const groups: Group[] = [
    { id: 'start', name: 'Start', lines: asked.filter((l) => starts.has(l.id)) },
    ...game.periods.map((p) => ({ id: p.id, name: p.name, lines: actions(p.id) })),
    { id: 'any', name: 'At any time', lines: actions(undefined) },
    {
      id: 'fouls',
      name: 'Fouls',
      lines: (game.fouls ?? []).map((f): Line => ({
        id: f.id,
        name: nameOf(f),
        kind: 'count',
        of: 'foul',
        subject: f.id
      }))
    },
    { id: 'asked', name: 'Asked', lines: asked.filter((l) => !starts.has(l.id)) }
  ];
  return groups.filter((g) => g.lines.length > 0);
}

export type Value = number | boolean | string;
/** What a typed text says: a value, nothing (not watched), or why it cannot be read. */
export type Typed = { value?: Value; problem?: string };

const YES = new Set(['1', 'y', 'yes', 'x']);
const NO = new Set(['0', 'n', 'no']);

/** Reads what was typed on a line. An empty text is "not watched". */
export function readLine(line: Line, text: string): Typed {
  const typed = text.trim();
  if (typed === '') return {};
  const lower = typed.toLowerCase();
  switch (line.kind) {
    case 'flag':
      if (YES.has(lower)) return { value: true };
      if (NO.has(lower)) return { value: false };
      return { problem: `“${typed}” is neither yes nor no: type 1 or 0.` };
    case 'choice': {
      const options = line.options ?? [];
      const found = /^\d+$/.test(typed)
        ? options.slice(Number(typed), Number(typed) + 1)
        : options.filter((o) => o.name.toLowerCase().startsWith(lower));
      if (found.length === 1) return { value: found[0]!.id };
      return { problem: `“${typed}”: type ${options.map((o, i) => `${i} for ${o.name}`).join(', ')}.` };
    }
    case 'text':
      return { value: typed };
    default: {
      // Four strokes and a bar are five: a tally can be typed as it stands, "5+5+2".
      const parts = typed.split('+').map((p) => p.trim());
      if (!parts.every((p) => (line.kind === 'count' ? /^\d{1,3}$/ : /^\d{1,4}(?:[.,]\d{1,2})?$/).test(p)))
        return { problem: `“${typed}” is not a ${line.kind === 'count' ? 'whole ' : ''}number.` };
      const sum = parts.reduce((total, p) => total + Number(p.replace(',', '.')), 0);
      const most = line.max ?? MOST;
      if (sum > most || sum < (line.min ?? 0))
        return { problem: `${sum} is outside ${line.min ?? 0} to ${most}.` };
      return { value: sum };
    }
  }
}

export interface Head {
  match: string;
  play: number;
  team: string;
  scout: string;
}

/** The record of a typed sheet. Lines without a value were not watched and stay out of it. */
export function bodyOf(
  game: Game,
  head: Head,
  values: ReadonlyMap<string, Value>,
  absent: boolean,
  note: string
): Observed {
  const out: Observed = { match: head.match, team: head.team, scout: head.scout };
  if (head.play > 1) out.play = head.play;
  if (note.trim()) out.note = note.trim();
  if (absent) return { ...out, absent: true };
  const counts: NonNullable<Observed['counts']> = {};
  const choices: NonNullable<Observed['choices']> = {};
  const fouls: Record<string, number> = {};
  const answers: NonNullable<Observed['answers']> = {};
  for (const line of groupsOf(game).flatMap((g) => g.lines)) {
    const value = values.get(line.id);
    if (value === undefined) continue;
    const of = line.subject;
    if (line.of === 'made') counts[of] = { ...counts[of], made: Number(value) };
    else if (line.of === 'missed') counts[of] = { ...counts[of], missed: Number(value) };
    else if (line.of === 'option') choices[of] = { ...choices[of], option: String(value) };
    else if (line.of === 'tried') choices[of] = { ...choices[of], tried: value === true };
    else if (line.of === 'foul') fouls[of] = Number(value);
    else answers[of] = value;
  }
  if (Object.keys(counts).length > 0) out.counts = counts;
  if (Object.keys(choices).length > 0) out.choices = choices;
  if (Object.keys(fouls).length > 0) out.fouls = fouls;
  if (Object.keys(answers).length > 0) out.answers = answers;
  return out;
}

/** "r1" or "b3" is a station: the team that stands there. Else undefined. */
export function stationTeam(
  match: { red: { teams: string[] }; blue: { teams: string[] } } | undefined,
  text: string
): string | undefined {
  const found = /^([rb])([1-3])$/i.exec(text.trim());
  if (!found || !match) return undefined;
  return match[found[1]!.toLowerCase() === 'r' ? 'red' : 'blue'].teams[Number(found[2]) - 1];
}

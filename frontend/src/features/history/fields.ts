// What a record of any kind says, member by member and in words, so that two
// versions can stand side by side. A member that is not known here is shown as
// it is rather than left out.

import type { PlayoffBody } from '$lib/api';
import { counted, fixed } from '$lib/figures';
import { distinctName } from '$lib/game/names';
import { nameOf, sentence, type Action, type Game } from '$lib/game/types';

export interface Field {
  id: string;
  label: string;
  text: string;
  /** The value itself, for comparing. */
  raw: unknown;
}

/** What is needed to say ids in words. */
export interface Words {
  game: Game | undefined;
  listName: (list: string) => string | undefined;
  /** Where a key puts a team in its list: "first", "behind 40105". */
  placeOf: (list: string, team: string, key: string) => string;
}

type Body = Record<string, unknown>;

/** What a body says, in the order of the game file; members that are empty are left out. */
export function fieldsOf(kind: string, body: Body, words: Words): Field[] {
  const rest = new Set(Object.keys(body).filter((k) => !unsaid(body[k])));
  const out: Field[] = [];
  const put = (id: string, label: string, raw: unknown, text: string) => {
    if (!unsaid(raw)) out.push({ id, label, raw, text });
  };
  const take = (name: string, label: string, say: (value: unknown) => string = plain) => {
    if (rest.delete(name)) put(name, label, body[name], say(body[name]));
  };
  const each = (name: string, names: [string, string][], say: (v: unknown, id: string) => string) => {
    if (!rest.delete(name)) return;
    const given = body[name] as Body;
    const known = names.filter(([id]) => Object.hasOwn(given, id));
    const strange = Object.keys(given)
      .filter((id) => !names.some(([n]) => n === id))
      .sort();
    for (const [id, label] of [...known, ...strange.map((id): [string, string] => [id, sentence(id)])]) {
      put(`${name}.${id}`, label, given[id], say(given[id], id));
    }
  };

  take('captain', 'Captain');
  take('match', 'Match');
  if (body.play === 1) rest.delete('play');
  take('play', 'Play');
  if (kind !== 'entry') take('team', 'Robot');
  take('scout', kind === 'note' ? 'In the words of' : 'Watched by');
  take('alliance', 'Alliance', (v) => sentence(String(v)));
  take('discarded', 'Counts', () => 'no, left out');
  take('checked', 'Looked at', () => 'found right');
  if (kind === 'observation') take('reason', 'Because');
  take('score', 'Score');
  take('from_fouls', 'Points from fouls');
  each('components', named(words.game?.components), plain);
  take('ranking_points', 'Ranking points');
  each('robots', [], plain);
  if (kind === 'observation') {
    take('absent', 'Did not show', plain);
    const actions = words.game?.actions ?? [];
    const names = actions.map((a): [string, string] => [a.id, actionName(words.game, a)]);
    const byId = new Map(actions.map((a) => [a.id, a]));
    each('counts', names, (v, id) => tally(v as { made?: number; missed?: number }, byId.get(id)));
    each('choices', names, (v, id) => chosen(v as { option: string; tried?: boolean }, byId.get(id)));
    each('fouls', named(words.game?.fouls), plain);
    each('answers', named(words.game?.questions), plain);
    take('from', 'Watched from', moment);
    take('to', 'Watched until', moment);
    take('taps', 'Times', (v) => counted((v as unknown[]).length, 'tap'));
    take('edited', 'Counts corrected by hand');
  }
  if (kind === 'judgement' && words.game)
    take(
      'question',
      'Question',
      (v) => named(words.game?.questions).find(([id]) => id === v)?.[1] ?? String(v)
    );
  take('best', 'Best');
  take('worst', 'Worst');
  take('asked_of', 'Asked of');
  take('absent', 'Did not show');
  take('disqualified', 'Disqualified');
  take('cards', 'Got a card');
  take('name', 'Name');
  take('purpose', 'Purpose');
  take('frozen', 'Dated copy of', (v) => String(v).slice(0, 16).replace('T', ' '));
  take('ranking', 'Ranking');
  take('moves', 'Moves', (v) => counted((v as unknown[]).length, 'move'));
  take('calls', 'Our calls', (v) => (v as { team: string }[]).map((c) => c.team).join(', '));
  take('kind', 'What', (v) => sentence(String(v)));
  const list = String(body.list ?? '');
  rest.delete('list');
  if (kind === 'entry') rest.delete('team');
  take('tier', 'Tier');
  take('key', 'Place', (v) => words.placeOf(list, String(body.team ?? ''), String(v)));
  take('never', 'Never pick');
  take('reason', 'Because');
  take('text', kind === 'question' ? 'Question' : kind === 'agreement' ? 'Agreed' : 'Note');
  take('kept', 'Promise', (v) => sentence(String(v)));
  take('plan', 'Plan', (v) => sentence(String(v)));
  take('broke', 'What broke');
  take('again', 'Play with it again', (v) => sentence(String(v)));
  for (const side of ['red', 'blue'])
    if (kind === 'playoff') take(side, sentence(side), (v) => around(v as PlayoffBody['red']));
  take('note', 'Note');
  take('removed', 'Taken away');
  for (const name of [...rest].sort()) put(name, sentence(name), body[name], plain(body[name]));
  return out;
}

/** "took a time-out; 40130 as backup robot; 40117 sat out (drive broken)". */
function around({ time_out, backup, sat_out }: PlayoffBody['red']): string {
  const out = (sat_out ?? []).map((s) => `${s.team} sat out${s.why ? ` (${s.why})` : ''}`);
  return (
    [time_out && 'took a time-out', backup && `${backup} as backup robot`, ...out]
      .filter(Boolean)
      .join('; ') || 'nothing'
  );
}

/** Not said at all: what is missing, empty or not so. A zero is something. */
const unsaid = (v: unknown): boolean =>
  v === undefined || v === null || v === false || v === '' || (Array.isArray(v) && v.length === 0);

const named = (things: { id: string; name?: string }[] | undefined): [string, string][] =>
  (things ?? []).map((t) => [t.id, nameOf(t)]);

function actionName(game: Game | undefined, action: Action): string {
  if (!game) return nameOf(action);
  const { name, period } = distinctName(game, action);
  return period ? `${name} in ${period.toLowerCase()}` : name;
}

function tally({ made, missed }: { made?: number; missed?: number }, action: Action | undefined): string {
  if (action?.kind === 'flag' && made !== undefined) return made > 0 ? 'yes' : 'no';
  const parts = [made === undefined ? undefined : String(made), missed ? `${missed} missed` : undefined];
  return parts.filter((p) => p !== undefined).join(', ') || 'not watched';
}

function chosen({ option, tried }: { option: string; tried?: boolean }, action: Action | undefined): string {
  const found = action?.options?.find((o) => o.id === option);
  const name = found ? nameOf(found) : option ? sentence(option) : 'none';
  return tried ? `${name}, tried for more` : name;
}

/** Milliseconds since the start of the match. */
function moment(v: unknown): string {
  const s = Math.round(Number(v) / 1000);
  return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, '0')} into the match`;
}

function plain(v: unknown): string {
  if (v === true) return 'yes';
  if (v === false) return 'no';
  if (typeof v === 'number') return Number.isInteger(v) ? String(v) : fixed(v, 2);
  if (Array.isArray(v) && v.every((x) => typeof x === 'string')) return v.join(', ');
  return typeof v === 'string' ? v : JSON.stringify(v);
}

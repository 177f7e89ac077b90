// What stands on the truth desk, in words, and what mending it changes.

import type { Observation, Suspect, Truth } from '$lib/api';
import { capital, compareTeams, fixed, inWords, listed, signed } from '$lib/figures';
import { distinctName } from '$lib/game/names';
import type { Game } from '$lib/game/types';
import type { Change, StoredRecord } from '$lib/offline';
import type { Entered } from '$lib/state/event.svelte';

export type Seen = Entered<'observation'>;

/** The answer to "whom can we pick from?", in one line. */
export function firstLine(safe: Truth['safe']): string {
  const { first, unsafe } = safe;
  if (first === 0) return 'Nothing is known of any robot yet.';
  if (unsafe.length === 0) return `The first ${first} are safe to pick from.`;
  const inside = unsafe.filter((u) => u.rank <= first).length;
  const them = unsafe.length === 1 ? 'this one is not' : `these ${inWords(unsafe.length)} are not`;
  const beyond = unsafe.length - inside;
  const more = beyond > 0 ? ` (${inWords(beyond)} of them may yet belong there)` : '';
  return `Of the first ${first}, ${first - inside} are safe to pick from; ${them}${more}.`;
}

const kinds: Record<Suspect['kind'], string> = {
  missing: 'Nobody watched',
  disagree: 'Two records disagree',
  swap: 'Two robots exchanged',
  wrong_robot: 'Another robot',
  period: 'Wrong period',
  stuck: 'A counter ran away',
  outlier: 'Fits nothing',
  absent: 'Called absent',
  unknown_team: 'No such team'
};
export const kindName = (s: Suspect): string =>
  s.kind === 'missing' && s.scouts.length > 0 ? 'Watched in part' : (kinds[s.kind] ?? s.kind);

/** "40117 would move by +3.1 points, 40123 by −2.8", "40117 may move by about 1.5 points"; '' when nothing is known. */
export function movesOf(s: Suspect): string {
  if (!s.most || s.effect < 0.05) return '';
  if (!s.shift) return `${s.most} may move by about ${fixed(s.effect)} points`;
  const also = s.also && Math.abs(s.also.shift) >= 0.05 ? `, ${s.also.team} by ${signed(s.also.shift)}` : '';
  return `${s.most} would move by ${signed(s.shift)} points${also}`;
}

/** The same thing keeps its key while its probability moves. */
export const keyOf = (s: Suspect): string =>
  [s.match, s.play ?? 1, s.kind, ...[...s.teams].sort(compareTeams), ...[...s.scouts].sort()].join('/');

/** The records that a suspect is about, in its order; what is not on this device is left out. */
export function recordsOf(s: Suspect, all: readonly Seen[]): Seen[] {
  return s.scouts.flatMap((scout, i) => {
    const team = (s.kind === 'swap' ? s.teams[i] : undefined) ?? s.teams[0];
    return all.filter(
      ({ body }) =>
        body.match === s.match &&
        (body.play || 1) === (s.play || 1) &&
        body.team === team &&
        body.scout === scout &&
        !body.discarded
    );
  });
}

/** One way to put something right: what its button says, and what it changes. */
export interface Way {
  name: string;
  changes: Change[];
}

/** A record with something changed, and why; that it was found right before no longer holds. */
export function changed(record: Seen, by: Partial<Observation>, reason: string): Change {
  const body: Observation = { ...record.body, ...by, reason };
  if (!by.checked) delete body.checked;
  return { kind: 'observation', recordId: record.record_id, body };
}

/** Why something was changed, for its history: what the desk said, without the full stop. */
const because = (s: Suspect): string => s.reason.replace(/\.$/, '').replace(/^./, (c) => c.toLowerCase());

/** What most likely puts it right, most likely first. */
export function waysOf(s: Suspect, records: readonly Seen[], game: Game): Way[] {
  const [one, two] = records;
  if (!one) return [];
  switch (s.kind) {
    case 'swap': {
      if (!two) return [];
      const { team } = one.body;
      const other = two.body.team;
      return [
        {
          name: 'Exchange the two',
          changes: [
            changed(one, { team: other }, `Exchanged with ${team}: ${because(s)}`),
            changed(two, { team }, `Exchanged with ${other}: ${because(s)}`)
          ]
        }
      ];
    }
    case 'wrong_robot': {
      const [said, real] = s.teams;
      if (s.other)
        return [
          {
            name: real && real !== said ? `It is ${real} in ${s.other}` : `It is of ${s.other}`,
            changes: [
              changed(
                one,
                { match: s.other, ...(real && { team: real }) },
                `Moved to ${s.other}: ${because(s)}`
              )
            ]
          }
        ];
      return s.teams.slice(1).map((team) => isOf(s, one, team));
    }
    case 'unknown_team':
      return s.teams.slice(1).map((team) => isOf(s, one, team));
    case 'period':
    case 'stuck':
      return s.likely?.length ? [likelyWay(s, one, game)] : [];
    case 'disagree':
      return two
        ? [one, two].map((kept, i) => ({
            name: `Go by ${kept.body.scout}`,
            changes: [
              changed(
                i === 0 ? two : one,
                { discarded: true },
                `${kept.body.scout}’s record holds: ${because(s)}`
              )
            ]
          }))
        : [];
    default:
      return [];
  }
}

const isOf = (s: Suspect, record: Seen, team: string): Way => ({
  name: `It is ${team}`,
  changes: [changed(record, { team }, `Moved to ${team}: ${because(s)}`)]
});

function likelyWay(s: Suspect, record: Seen, game: Game): Way {
  const counts = { ...record.body.counts };
  const words: string[] = [];
  for (const l of s.likely ?? []) {
    counts[l.action] = { ...counts[l.action], [l.missed ? 'missed' : 'made']: l.to };
    words.push(`${countName(game, l.action)}${l.missed ? ', missed,' : ''} ${l.to} instead of ${l.from}`);
  }
  return {
    name: `Set ${listed(words)}`,
    changes: [changed(record, { counts, edited: true }, `Set to what is likely: ${because(s)}`)]
  };
}

/** The name of an action as it is told from others, in the middle of a sentence. */
export function countName(game: Game, id: string): string {
  const action = game.actions.find((a) => a.id === id);
  if (!action) return id;
  const { name, period } = distinctName(game, action);
  return period ? `${name} in ${period.toLowerCase()}` : name;
}

/** Somebody looked: the records are right as they stand. */
export const accept = (s: Suspect, records: readonly Seen[]): Change[] =>
  records.map((r) => changed(r, { checked: true }, `Looked at and found right, although: ${because(s)}`));

export const leaveOut = (s: Suspect, record: Seen): Change =>
  changed(record, { discarded: true }, `Left out: ${because(s)}`);

/** What to ask the scout of a record; it names nobody. */
export function questionOf(s: Suspect, record: Seen, game: Game): string {
  const { match, team } = record.body;
  const other = s.kind === 'swap' ? s.teams.find((t) => t !== team) : s.teams[1];
  switch (s.kind) {
    case 'swap':
    case 'wrong_robot':
      if (s.other) return `Your record of ${team} in ${match}: was it of ${s.other}?`;
      return other
        ? `In ${match} you recorded ${team}. Could it have been ${other}?`
        : `In ${match} you recorded ${team}. Was it another robot?`;
    case 'unknown_team':
      return `In ${match} you recorded ${team}, which is not here.${other ? ` Was it ${other}?` : ''}`;
    case 'period':
    case 'stuck': {
      const l = s.likely?.[0];
      const name = s.action ? countName(game, s.action.replace(/_missed$/, '')) : 'one count';
      return l
        ? `${team} in ${match}: ${name} stands at ${l.from}. Is that right?`
        : `${team} in ${match}: is ${name} right?`;
    }
    case 'absent':
      return `In ${match} you said that ${team} did not show. Is that right?`;
    default:
      return `Is your record of ${team} in ${match} right as it stands?`;
  }
}

/** Something that was mended: its records, who did it, when and why. */
export interface Mended {
  key: string;
  records: Seen[];
  author: string;
  at: string;
  reason: string;
}

/** What an undo says; such a revision is no mending of its own. */
export const TAKEN_BACK = 'Taken back';

/** Why a record names its scout otherwise now. */
export const NAME_AWAY = 'The scout’s name was taken away';

/** What stands for a scout's name once that is taken away: the first of s01, s02, … that nobody has. */
export function nameless(taken: Iterable<string>): string {
  const names = new Set(taken);
  for (let n = 1; ; n++) {
    const name = `s${String(n).padStart(2, '0')}`;
    if (!names.has(name)) return name;
  }
}

/** Gives all that one scout entered another name; the records say the same as before. */
export const renamed = (records: readonly StoredRecord[], from: string, to: string): Change[] =>
  records
    .filter((r) => r.body.scout === from)
    .map((r) => ({
      kind: r.kind,
      recordId: r.record_id,
      body: { ...r.body, scout: to, ...(r.kind === 'observation' && { reason: NAME_AWAY }) }
    })) as Change[];

/** What leads mended and nobody changed since, the newest first. */
export function mendedOf(all: readonly Seen[]): Mended[] {
  const by = new Map<string, Mended>();
  for (const record of all) {
    const { reason } = record.body;
    const head = record.revisions.find((r) => r.revision_id === record.head);
    if (!head || !reason || reason === TAKEN_BACK || reason === NAME_AWAY || !before(record)) continue;
    const key = `${head.made_at}/${head.author}`;
    const known = by.get(key);
    if (known) known.records.push(record);
    else by.set(key, { key, records: [record], author: head.author, at: head.made_at, reason });
  }
  return [...by.values()].sort((a, b) => (a.at < b.at ? 1 : -1));
}

/** What a record said before its last change; undefined: there was none, or several at once. */
export function before(record: Pick<StoredRecord, 'revisions' | 'head'>): Observation | undefined {
  const head = record.revisions.find((r) => r.revision_id === record.head);
  if (!head || head.parents.length !== 1) return undefined;
  return record.revisions.find((r) => r.revision_id === head.parents[0])?.body as Observation | undefined;
}

/** Puts back what stood before something was mended. */
export const undo = (m: Mended): Change[] =>
  m.records.flatMap((r) => {
    const body = before(r);
    return body
      ? [{ kind: 'observation' as const, recordId: r.record_id, body: { ...body, reason: TAKEN_BACK } }]
      : [];
  });

/** The robots whose estimates a mending may move: those that its records are of now and were of before. */
export const robotsOf = (m: Mended): string[] =>
  [...new Set(m.records.flatMap((r) => [before(r)?.team ?? r.body.team, r.body.team]))].sort(compareTeams);

/** "Barrel on deck, missed": what a habit of a scout is about. */
export function habitName(game: Game, habit: { action: string; missed?: boolean }): string {
  const name = capital(countName(game, habit.action));
  return habit.missed ? `${name}, missed` : name;
}

/** "3 of 6 seats have no record" and the like, for a match of the map. */
export function seatWords(seats: readonly { state: string }[]): string {
  const n = (state: string) => seats.filter((s) => s.state === state).length;
  const parts = [
    [n('arrived'), 'arrived'],
    [n('on_its_way'), 'on its way'],
    [n('missing'), 'missing'],
    [n('doubtful'), 'doubtful']
  ] as const;
  return parts
    .filter(([count]) => count > 0)
    .map(([count, word]) => `${count} ${word}`)
    .join(', ');
}

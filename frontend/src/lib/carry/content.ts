/** What is inside a bundle: unsent records on their way home, or what a lead gives out. */
import { Told, type Alliance, type Match, type Revision, type Role } from '../api';
import { fromFile, type DB, type LocalRevision, type Thing, type Unsent } from '../offline';
import { audienceOf, unseal, type Audience, type Keys } from './seal';
import { checked } from './sign';

interface Sender {
  nickname: string;
  role: Role;
}

/** Unsent records, on their way to the server by a lead's device. */
export interface Home {
  what: 'home';
  from: Sender;
  at: string;
  revisions: Revision[];
}

/** What a lead gives out, to be read where it arrives. */
export interface Out {
  what: 'out';
  from: Sender;
  at: string;
  revisions: Revision[];
  things: Thing[];
}

export type Content = Home | Out;

/** What can be chosen to be given out. */
export type Part = 'schedule' | 'questions' | 'lists' | 'briefs';

/** The kinds of records of each part; a scout's tablet holds no strategy. */
const KINDS: Record<Part, string[]> = {
  schedule: ['seat', 'rota', 'result', 'playoff'],
  questions: ['question'],
  lists: ['list', 'entry', 'note', 'mark', 'selection'],
  briefs: ['agreement', 'debrief', 'sketch']
};
const THINGS: Record<Part, (name: string) => boolean> = {
  schedule: (name) => ['schedule', 'teams', 'game'].includes(name),
  questions: () => false,
  lists: () => false,
  briefs: (name) => ['estimates', 'forecasts'].includes(name) || /^(forecast|brief)\//.test(name)
};

/** The parts that an audience may have. */
export const partsFor = (audience: Audience): Part[] =>
  audience === 'all' ? ['schedule', 'questions'] : ['schedule', 'questions', 'lists', 'briefs'];

/**
 * Whether a record may be on a scout's tablet: who sits where, and a question
 * that was ever asked of scouts (store/append.go holds the same for the feed).
 */
function isForScouts(revisions: Revision[]): boolean {
  const [first] = revisions;
  if (first?.kind === 'question') return revisions.some((r) => r.body.asked_of === 'scouts');
  return first?.kind === 'seat';
}

/** A thing as a scout's tablet may have it: the schedule without what was played. */
function forScouts(thing: Thing): Thing {
  if (thing.name !== 'schedule' || !Array.isArray(thing.value)) return thing;
  const side = ({ teams, surrogates }: Alliance) => ({ teams, ...(surrogates && { surrogates }) });
  const matches = (thing.value as Match[]).map((m) => ({ ...m, red: side(m.red), blue: side(m.blue) }));
  return { ...thing, value: matches };
}

/** Nothing but name and role, whatever else is known of who sends. */
const sender = ({ nickname, role }: Sender): Sender => ({ nickname, role });

/** Unsent records as a bundle. Those that another device said it has are left out, unless all is asked for. */
export function home(from: Sender, items: Unsent[], all: boolean, now: Date = new Date()): Home {
  return {
    what: 'home',
    from: sender(from),
    at: now.toISOString(),
    revisions: items.filter((u) => all || !u.handed).map((u) => u.revision)
  };
}

/** What this device knows of the chosen parts, for an audience. */
export async function out(
  db: DB,
  event: string,
  from: Sender,
  audience: Audience,
  parts: Part[],
  now: Date = new Date()
): Promise<Out> {
  const chosen = partsFor(audience).filter((p) => parts.includes(p));
  const revisions: Revision[] = [];
  for (const kind of chosen.flatMap((p) => KINDS[p])) {
    for (const r of await db.getAllFromIndex('records', 'kind', [event, kind]))
      if (audience === 'staff' || isForScouts(r.revisions)) revisions.push(...r.revisions.map(plain));
  }
  const things: Thing[] = [];
  for (const { name, value, at } of await db.getAll('bundle', IDBKeyRange.bound([event], [event, []]))) {
    if (!chosen.some((p) => THINGS[p](name))) continue;
    const thing = { name, value, at };
    things.push(audience === 'staff' ? thing : forScouts(thing));
  }
  return { what: 'out', from: sender(from), at: now.toISOString(), revisions, things };
}

/** A revision without what this device notes beside it. */
function plain(revision: LocalRevision): Revision {
  const { member: _member, letIn: _letIn, ...rest } = revision;
  return rest;
}

/** Opens what came in: what it may hold for this role, and what in it is no good; throws Told. */
export async function receive(
  sealed: Uint8Array<ArrayBuffer>,
  event: string,
  role: Role,
  keys: Keys | undefined
): Promise<{ content: Content; problems: string[] }> {
  const value = await checked(await unseal(sealed, event, keys), event, keys);
  return accept(value, event, role, audienceOf(sealed));
}

/**
 * What a device of this role takes from a bundle that was opened. Throws Told if
 * it takes nothing: a lead alone carries records home, and a scout's tablet
 * keeps no strategy whatever is shown to it.
 */
export function accept(
  value: unknown,
  event: string,
  role: Role,
  audience: Audience
): { content: Content; problems: string[] } {
  const c = value as Partial<Out> | null;
  const whole =
    typeof c === 'object' && c !== null && Array.isArray(c.revisions) && typeof c.from?.nickname === 'string';
  if (!whole || (c.what === 'out' && !Array.isArray(c.things)) || !['home', 'out'].includes(String(c.what)))
    throw new Told(
      'This is no bundle that this version of the app knows. Load the app again on both devices.'
    );
  if ((c.what as string) === 'home' && role !== 'lead')
    throw new Told(
      'These are records on their way to the server. Only a lead takes them in: show them to a lead’s device.'
    );
  // The seal says that the event is the right one, so a correction need not lie beside what it corrects.
  const { revisions, problems } = fromFile(
    c.revisions!.map((r) => JSON.stringify(r)).join('\n'),
    event,
    () => true
  );
  const content = { ...c, revisions } as Content;
  if (content.what === 'home' && audience === 'all') {
    // Every scout has this key: nobody speaks for a lead with it.
    content.revisions = revisions.filter((r) => r.role === 'scout');
    for (const r of revisions.filter((r) => r.role !== 'scout'))
      problems.push({
        line: 0,
        message: `a record of ${r.author}, which a scout’s device cannot bring: send it from a lead’s`
      });
  }
  if (content.what === 'out' && (role === 'scout' || audience === 'all')) {
    content.revisions = revisions.filter((r) =>
      isForScouts(revisions.filter((other) => other.record_id === r.record_id))
    );
    content.things = content.things.filter((t) => THINGS.schedule(t.name)).map(forScouts);
  } else if (content.what === 'out') {
    content.things = content.things.filter((t) => partsFor('staff').some((p) => THINGS[p](String(t?.name))));
  }
  return { content, problems: problems.map((p) => p.message) };
}

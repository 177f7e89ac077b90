/**
 * What was entered here: saved with its outbox entry in one transaction, taken
 * out only after the server's feed showed it (feed.ts). What the server refuses
 * stays, with the reason.
 */
import type { Bodies, Kind, Revision, Role, SentRevision } from '../api/types';
import type { DB, LocalRevision, StoredRecord, Unsent } from './db';
import { newId } from './ids';
import { resolve } from './resolve';
import { inWords } from './storage';

export interface Person {
  member_id: string;
  nickname: string;
  role: Role;
}

/** One change to one record: of a merged kind only the members that change; null takes a member away. */
export interface Change<K extends Kind = Kind> {
  kind: K;
  recordId: string;
  body: { [M in keyof Bodies[K]]?: Bodies[K][M] | null };
}

/** Saves changes, all or none, on this device. Returns after they are safe. */
export async function save(
  db: DB,
  event: string,
  person: Person,
  device: string,
  changes: Change[],
  now: Date = new Date()
): Promise<Revision[]> {
  const tx = db.transaction(['records', 'outbox', 'feed'], 'readwrite', { durability: 'strict' });
  const records = tx.objectStore('records');
  const outbox = tx.objectStore('outbox');
  const feed = (await tx.objectStore('feed').get(event)) ?? { event, after: 0, lamport: 0 };
  const made: Revision[] = [];
  try {
    for (const change of changes) {
      const known = await records.get([event, change.recordId]);
      const revision: Revision = {
        revision_id: newId(),
        record_id: change.recordId,
        parents: known?.heads ?? [],
        kind: change.kind,
        lamport: ++feed.lamport,
        author: person.nickname,
        role: person.role,
        device_id: device,
        made_at: now.toISOString(),
        // A plain copy: what is stored must not be a view on somebody's state.
        body: JSON.parse(JSON.stringify(change.body)) as Record<string, unknown>
      };
      await records.put(withRevisions(event, known, [{ ...revision, member: person.member_id }]));
      await outbox.put(entry(event, person.member_id, revision, now));
      made.push(revision);
    }
    await tx.objectStore('feed').put(feed);
    await tx.done;
  } catch (error) {
    throw giveUp(tx, error);
  }
  return made;
}

function entry(event: string, member: string, revision: Revision, now: Date): Unsent {
  return {
    revision_id: revision.revision_id,
    event,
    record_id: revision.record_id,
    member,
    revision,
    queued_at: now.toISOString()
  };
}

/** The record with more revisions; the server's copy of one replaces ours. */
export function withRevisions(
  event: string,
  known: StoredRecord | undefined,
  more: LocalRevision[]
): StoredRecord {
  const byId = new Map<string, LocalRevision>(known?.revisions.map((r) => [r.revision_id, r]));
  for (const r of more) {
    const ours = byId.get(r.revision_id);
    const { member, letIn } = ours ?? {};
    byId.set(r.revision_id, member && !r.member ? { ...r, member, ...(letIn && { letIn }) } : r);
  }
  const revisions = [...byId.values()];
  const { head, heads, conflict, disputed, body } = resolve(revisions);
  const first = revisions[0] as LocalRevision;
  return {
    event,
    record_id: first.record_id,
    kind: first.kind,
    revisions,
    head,
    heads,
    conflict,
    disputed,
    body
  };
}

/** The form that travels: the server knows from the session who it is, unless somebody else made it. */
export function sent({ revision, letIn }: Pick<Unsent, 'revision' | 'letIn'>): SentRevision {
  const { revision_id, record_id, parents, kind, lamport, made_at, body, author, role, device_id } = revision;
  const item = { revision_id, record_id, parents, kind, lamport, made_at, body };
  return letIn ? { ...item, from: { author, role, device_id } } : item;
}

/**
 * Takes in revisions as they are that came by a file or that the server kept
 * apart: a lead accepts what a tablet could not send itself. What is known here already stays as it is, and
 * since each keeps its id, it is stored once even if the tablet sends it later.
 * Returns how many were new.
 */
export async function takeIn(
  db: DB,
  event: string,
  person: Person,
  revisions: Revision[],
  now: Date = new Date()
): Promise<number> {
  const tx = db.transaction(['records', 'outbox', 'feed'], 'readwrite', { durability: 'strict' });
  const records = tx.objectStore('records');
  let taken = 0;
  try {
    const feed = (await tx.objectStore('feed').get(event)) ?? { event, after: 0, lamport: 0 };
    for (const revision of revisions) {
      const known = await records.get([event, revision.record_id]);
      if (known?.revisions.some((r) => r.revision_id === revision.revision_id)) continue;
      await records.put(
        withRevisions(event, known, [{ ...revision, member: person.member_id, letIn: true }])
      );
      await tx.objectStore('outbox').put({ ...entry(event, person.member_id, revision, now), letIn: true });
      feed.lamport = Math.max(feed.lamport, revision.lamport);
      taken++;
    }
    await tx.objectStore('feed').put(feed);
    await tx.done;
  } catch (error) {
    throw giveUp(tx, error);
  }
  return taken;
}

/** Ends a transaction of which a step failed, so that nothing of it stays; what went wrong, in words. */
function giveUp(tx: { done: Promise<void>; abort: () => void }, error: unknown): unknown {
  tx.done.catch(() => undefined);
  try {
    tx.abort();
  } catch {
    // It is over already.
  }
  return inWords(error);
}

/** A member's next revisions to send, oldest first. */
export async function nextToSend(db: DB, event: string, member: string, limit: number): Promise<Unsent[]> {
  const all = await db.getAllFromIndex('outbox', 'event', event);
  return all
    .filter((u) => u.member === member && u.refused === undefined && !u.stored && !u.apart)
    .slice(0, limit);
}

/**
 * Hands what somebody left unsent on this device to the same nickname's new part
 * in the event: one who was taken out and joins again is another member to the
 * server. Which record it is follows from the nickname, so that stays as it was.
 */
export async function adopt(db: DB, event: string, member: string, nickname: string): Promise<void> {
  const tx = db.transaction('outbox', 'readwrite');
  for (const u of await tx.store.index('event').getAll(event)) {
    if (u.member !== member && u.revision.author === nickname)
      await tx.store.put({ ...u, member, letIn: undefined });
  }
  await tx.done;
}

export interface Settled {
  revision_id: string;
  /** Why it was refused. */
  refused?: string;
  /** The server says that it has it. */
  stored?: boolean;
}

/** Keeps what became of each; what is neither refused nor stored is taken out. */
export async function settle(db: DB, outcomes: Settled[]): Promise<void> {
  const tx = db.transaction('outbox', 'readwrite');
  for (const { revision_id, refused, stored } of outcomes) {
    const unsent = await tx.store.get(revision_id);
    if (!unsent) continue;
    if (refused === undefined && !stored) await tx.store.delete(revision_id);
    else await tx.store.put({ ...unsent, refused, stored });
  }
  await tx.done;
}

/** The feed hides some changes from some people: so often is a revision sent that it never shows. */
const ENOUGH = 3;

/**
 * After the feed was read to its end: what the server said it has and the feed
 * did not show was lost there, and goes out again.
 */
export async function sendMissed(db: DB, event: string): Promise<void> {
  const tx = db.transaction('outbox', 'readwrite');
  for (const u of await tx.store.index('event').getAll(event)) {
    if (!u.stored) continue;
    const missed = (u.missed ?? 0) + 1;
    if (missed >= ENOUGH) await tx.store.delete(u.revision_id);
    else await tx.store.put({ ...u, stored: undefined, missed });
  }
  await tx.done;
}

/** Marks what the server keeps apart: it is not sent again, but stays here until the feed shows it. */
export async function setApart(db: DB, batch: Unsent[]): Promise<void> {
  const tx = db.transaction('outbox', 'readwrite');
  for (const { revision_id } of batch) {
    const waits = await tx.store.get(revision_id);
    if (waits) await tx.store.put({ ...waits, apart: true });
  }
  await tx.done;
}

/** The device is signed in again: what was kept apart goes out in the ordinary way. Says whether there is any. */
export async function rejoin(db: DB, event: string, member: string): Promise<boolean> {
  const tx = db.transaction('outbox', 'readwrite');
  let any = false;
  for (const u of await tx.store.index('event').getAll(event)) {
    if (!u.apart || u.member !== member) continue;
    await tx.store.put({ ...u, apart: undefined });
    any = true;
  }
  await tx.done;
  return any;
}

/** Lets refused revisions of an event be tried once more, after what was wrong on the server was mended. */
export async function tryAgain(db: DB, event: string): Promise<void> {
  const tx = db.transaction('outbox', 'readwrite');
  for (const unsent of await tx.store.index('event').getAll(event)) {
    if (unsent.refused !== undefined) await tx.store.put({ ...unsent, refused: undefined });
  }
  await tx.done;
}

/** All that the server has not taken, of everybody on this device. */
export const unsent = async (db: DB, event: string): Promise<Unsent[]> =>
  (await db.getAllFromIndex('outbox', 'event', event)).filter((u) => !u.stored);

/** The unsent revisions as NDJSON, one a line, for a file. */
export function asFile(items: Unsent[]): string {
  return items.map((u) => JSON.stringify(u.revision) + '\n').join('');
}

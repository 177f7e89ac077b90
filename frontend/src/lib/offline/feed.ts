/** What others did: the server's feed, taken into the local database. */
import type { FeedItem } from '../api/types';
import type { BundleName, DB, LocalRevision } from './db';
import { withRevisions } from './outbox';

/** What a page of the feed touched. */
export interface Touched {
  kinds: Set<string>;
  records: string[];
  bundles: Set<BundleName>;
}

/** The things to fetch whole again after a change of each kind. */
const bundlesOf: Record<string, BundleName[]> = {
  // The game is read with the event's own settings applied.
  // An event that was restored from its export has other keys.
  event: ['event', 'game', 'keys'],
  game: ['event', 'game'],
  teams: ['teams'],
  matches: ['schedule']
};

export async function position(db: DB, event: string): Promise<number> {
  return (await db.get('feed', event))?.after ?? 0;
}

/** Takes one page of the feed in, in one transaction with the new position. */
export async function take(db: DB, event: string, items: FeedItem[], next: number): Promise<Touched> {
  const touched: Touched = { kinds: new Set(), records: [], bundles: new Set() };
  const byRecord = new Map<string, LocalRevision[]>();
  let lamport = 0;
  for (const item of items) {
    for (const name of bundlesOf[item.kind] ?? []) touched.bundles.add(name);
    if (!item.revision) continue;
    const revision = item.revision as LocalRevision;
    lamport = Math.max(lamport, revision.lamport);
    byRecord.set(revision.record_id, [...(byRecord.get(revision.record_id) ?? []), revision]);
    touched.kinds.add(revision.kind);
  }

  touched.records = [...byRecord.keys()];
  const tx = db.transaction(['records', 'outbox', 'feed', 'bundle'], 'readwrite');
  const records = tx.objectStore('records');
  for (const [id, revisions] of byRecord) {
    await records.put(withRevisions(event, await records.get([event, id]), revisions));
    for (const { revision_id } of revisions) await tx.objectStore('outbox').delete(revision_id);
  }
  const bundle = tx.objectStore('bundle');
  for (const name of touched.bundles) {
    const old = await bundle.get([event, name]);
    if (old) await bundle.put({ ...old, stale: true });
  }
  const feed = (await tx.objectStore('feed').get(event)) ?? { event, after: 0, lamport: 0 };
  await tx.objectStore('feed').put({ event, after: next, lamport: Math.max(feed.lamport, lamport) });
  await tx.done;
  return touched;
}

/**
 * The server was restored from a back-up: forgets what came from it and starts
 * over. What was made on this device is queued again, since the back-up may be
 * older; the server knows most of it and says so.
 */
export async function startOver(db: DB, event: string, now: Date = new Date()): Promise<void> {
  const tx = db.transaction(['records', 'outbox', 'feed', 'bundle'], 'readwrite');
  const records = tx.objectStore('records');
  const outbox = tx.objectStore('outbox');
  const range = IDBKeyRange.bound([event], [event, []]);
  for (const record of await records.getAll(range)) {
    const own = record.revisions.filter((r) => r.member !== undefined);
    if (own.length === 0) {
      await records.delete([event, record.record_id]);
      continue;
    }
    await records.put(withRevisions(event, undefined, own));
    for (const { member, letIn, ...revision } of own) {
      if (member === undefined) continue;
      const waits = await outbox.get(revision.revision_id);
      if (waits) {
        if (waits.stored) await outbox.put({ ...waits, stored: undefined });
        continue;
      }
      const { revision_id, record_id } = revision;
      const queued_at = now.toISOString();
      await outbox.put({
        revision_id,
        event,
        record_id,
        member,
        revision,
        queued_at,
        ...(letIn && { letIn })
      });
    }
  }
  for (const old of await tx.objectStore('bundle').getAll(range)) {
    await tx.objectStore('bundle').put({ ...old, stale: true, etag: undefined });
  }
  const feed = await tx.objectStore('feed').get(event);
  await tx.objectStore('feed').put({ event, after: 0, lamport: feed?.lamport ?? 0 });
  await tx.done;
}

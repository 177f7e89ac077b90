/** What came from another device of the event, past the server, and what was given to one. */
import type { Revision } from '../api/types';
import type { BundleName, DB, PageName } from './db';
import { withRevisions } from './outbox';
import { inWords } from './storage';

/** A thing that is fetched whole, as another device had it. */
export interface Thing {
  name: BundleName | PageName;
  value: unknown;
  /** When the server gave it out, by the other device's clock. */
  at: string;
}

/**
 * Takes in what a lead's device gave out, to be looked at here: it is not sent,
 * and the feed goes on where it was, so that the server's own word comes in its
 * turn and replaces it. A thing that is older than the one here is left out.
 * Returns what was new.
 */
export async function takeOver(
  db: DB,
  event: string,
  revisions: Revision[],
  things: Thing[]
): Promise<{ kinds: string[]; bundles: string[]; revisions: number }> {
  const tx = db.transaction(['records', 'feed', 'bundle'], 'readwrite', { durability: 'strict' });
  const kinds = new Set<string>();
  const bundles: string[] = [];
  let taken = 0;
  try {
    const feed = (await tx.objectStore('feed').get(event)) ?? { event, after: 0, lamport: 0 };
    const records = tx.objectStore('records');
    for (const revision of revisions) {
      const known = await records.get([event, revision.record_id]);
      if (known?.revisions.some((r) => r.revision_id === revision.revision_id)) continue;
      await records.put(withRevisions(event, known, [revision]));
      feed.lamport = Math.max(feed.lamport, revision.lamport);
      kinds.add(revision.kind);
      taken++;
    }
    await tx.objectStore('feed').put(feed);
    for (const { name, value, at } of things) {
      const old = await tx.objectStore('bundle').get([event, name]);
      if (old && old.at >= at) continue;
      await tx.objectStore('bundle').put({ event, name, value, at, stale: true });
      bundles.push(name);
    }
    await tx.done;
  } catch (error) {
    tx.done.catch(() => undefined);
    throw inWords(error);
  }
  return { kinds: [...kinds], bundles, revisions: taken };
}

/** Notes that another device has these revisions. They stay here until the server's feed shows them. */
export async function handOver(db: DB, revisions: string[], now: Date = new Date()): Promise<void> {
  const tx = db.transaction('outbox', 'readwrite');
  for (const id of revisions) {
    const unsent = await tx.store.get(id);
    if (unsent) await tx.store.put({ ...unsent, handed: now.toISOString() });
  }
  await tx.done;
}

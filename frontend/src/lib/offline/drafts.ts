/** Forms in progress: kept after each tap, so that a reload in mid-match loses nothing. */
import { database } from './db';
import { announce } from './notify';
import { inWords, isFull } from './storage';

const name = (event: string, key: string): string => `draft/${event}/${key}`;

/**
 * Keeps a draft while the page is being put away. The database answers later than a page lives,
 * so a copy goes where writing does not wait; the next draft that is kept takes its place.
 */
export function keepDraftAtOnce(event: string, key: string, draft: unknown): void {
  try {
    localStorage.setItem(name(event, key), JSON.stringify(draft));
  } catch (error) {
    // No room there, or storage forbidden: the database may still be in time.
    console.error(error);
  }
}

/** What was kept at once and is not in the database for certain, as it was written. */
const copyOf = (at: string): string | null => globalThis.localStorage?.getItem(at) ?? null;
function dropCopy(at: string): void {
  globalThis.localStorage?.removeItem(at);
}

export async function keepDraft(event: string, key: string, draft: unknown): Promise<void> {
  const at = name(event, key);
  const older = copyOf(at);
  try {
    await (await database()).put('meta', draft, at);
  } catch (error) {
    // Nobody waits for a draft, so the screens are told.
    if (isFull(error)) announce({ event, full: true });
    throw inWords(error);
  }
  // A copy made meanwhile is newer than what was written.
  if (older !== null && copyOf(at) === older) dropCopy(at);
}

export async function draft<T>(event: string, key: string): Promise<T | undefined> {
  const at = name(event, key);
  const copy = copyOf(at);
  if (copy !== null) return JSON.parse(copy) as T;
  return (await (await database()).get('meta', at)) as T | undefined;
}

export async function dropDraft(event: string, key: string): Promise<void> {
  const at = name(event, key);
  dropCopy(at);
  await (await database()).delete('meta', at);
}

/** All drafts of an event. */
export async function drafts<T>(event: string): Promise<T[]> {
  const from = name(event, '');
  const range = IDBKeyRange.bound(from, `${from}\uffff`);
  const db = await database();
  const [keys, kept] = await Promise.all([db.getAllKeys('meta', range), db.getAll('meta', range)]);
  const all = new Map(keys.map((key, i) => [String(key), kept[i] as T]));
  for (const at of Object.keys(globalThis.localStorage ?? {})) {
    const copy = at.startsWith(from) ? copyOf(at) : null;
    if (copy !== null) all.set(at, JSON.parse(copy) as T);
  }
  return [...all.values()];
}

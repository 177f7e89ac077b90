/** Forms in progress: kept after each tap, so that a reload in mid-match loses nothing. */
import { database } from './db';

const name = (event: string, key: string): string => `draft/${event}/${key}`;

export async function keepDraft(event: string, key: string, draft: unknown): Promise<void> {
  await (await database()).put('meta', draft, name(event, key));
}

export async function draft<T>(event: string, key: string): Promise<T | undefined> {
  return (await (await database()).get('meta', name(event, key))) as T | undefined;
}

export async function dropDraft(event: string, key: string): Promise<void> {
  await (await database()).delete('meta', name(event, key));
}

/** All drafts of an event. */
export async function drafts<T>(event: string): Promise<T[]> {
  const from = name(event, '');
  return (await (await database()).getAll('meta', IDBKeyRange.bound(from, `${from}\uffff`))) as T[];
}

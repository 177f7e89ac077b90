/** Forms in progress: kept after each tap, so that a reload in mid-match loses nothing. */
import { database } from './db';
import { announce } from './notify';
import { inWords, isFull } from './storage';

const name = (event: string, key: string): string => `draft/${event}/${key}`;

export async function keepDraft(event: string, key: string, draft: unknown): Promise<void> {
  try {
    await (await database()).put('meta', draft, name(event, key));
  } catch (error) {
    // Nobody waits for a draft, so the screens are told.
    if (isFull(error)) announce({ event, full: true });
    throw inWords(error);
  }
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

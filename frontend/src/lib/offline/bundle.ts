/** Things of an event that are fetched whole and kept for the time without a network. */
import { analysis, events, game, matches, teams, type Answer } from '../api';
import { exclusively } from './alone';
import type { BundleName, DB, PageName } from './db';
import { inWords } from './storage';

type Fetch = (event: string, etag?: string) => Promise<Answer<unknown>>;

export const fetches: Record<BundleName, Fetch> = {
  event: events.read,
  game: game.read,
  teams: teams.read,
  schedule: matches.read,
  keys: events.keys,
  estimates: analysis.estimates,
  forecasts: analysis.forecasts,
  judgements: analysis.judgements
};

/** What every role needs to work without a network. */
export const everyday: BundleName[] = ['event', 'game', 'teams', 'schedule', 'keys'];

export async function kept<T>(db: DB, event: string, name: BundleName): Promise<T | undefined> {
  return (await db.get('bundle', [event, name]))?.value as T | undefined;
}

export function refresh(db: DB, event: string, name: BundleName, fetchOne?: Fetch): Promise<boolean>;
export function refresh(db: DB, event: string, name: PageName, fetchOne: Fetch): Promise<boolean>;
/**
 * Fetches one thing if it changed. Says whether the local copy is another now. Of
 * many tabs that ask at once the first fetches, and the others have its answer.
 */
export async function refresh(
  db: DB,
  event: string,
  name: BundleName | PageName,
  fetchOne: Fetch = fetches[name as BundleName]
): Promise<boolean> {
  const wanted = Date.now();
  return exclusively(`sextant-fetch-${event}-${name}`, () => fetchNow(db, event, name, fetchOne, wanted));
}

async function fetchNow(
  db: DB,
  event: string,
  name: BundleName | PageName,
  fetchOne: Fetch,
  wanted: number
): Promise<boolean> {
  const old = await db.get('bundle', [event, name]);
  const asked = Date.now();
  // Another tab asked later than we wanted to, and has its answer. (A clock that was
  // set back makes old answers look like that; those are asked for again.)
  if (old?.asked !== undefined && wanted < old.asked && old.asked <= asked && !old.stale) return true;
  const answer = await fetchOne(event, old?.etag);
  const at = new Date().toISOString();
  try {
    if (answer.value === undefined) {
      if (old) await db.put('bundle', { ...old, stale: false, at, asked });
      return false;
    }
    await db.put('bundle', { event, name, value: answer.value, etag: answer.etag, stale: false, at, asked });
    return true;
  } catch (error) {
    throw inWords(error);
  }
}

/** Those of the names that are missing here or known to have changed. */
export async function due(db: DB, event: string, names: BundleName[]): Promise<BundleName[]> {
  const out: BundleName[] = [];
  for (const name of names) {
    const old = await db.get('bundle', [event, name]);
    // Keys of before leads signed what they give out.
    const lacks = name === 'keys' && !(old?.value as { check?: string } | undefined)?.check;
    if (!old || old.stale || lacks) out.push(name);
  }
  return out;
}

/** Things of an event that are fetched whole and kept for the time without a network. */
import { analysis, events, game, matches, teams, type Answer } from '../api';
import { oneOf } from './alone';
import type { Bundle, BundleName, DB, PageName } from './db';
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

/** What is kept of a thing after looking for a newer one. */
export interface Refreshed {
  /** undefined: nothing is kept, and the server says that what we have is true. */
  bundle: Bundle | undefined;
  /** It is another than before. */
  another: boolean;
}

export function refresh(
  db: DB,
  event: string,
  name: BundleName,
  fetchOne?: Fetch,
  since?: number
): Promise<Refreshed>;
export function refresh(
  db: DB,
  event: string,
  name: PageName,
  fetchOne: Fetch,
  since?: number
): Promise<Refreshed>;
/**
 * Fetches one thing if it changed. An answer that was asked for later than since
 * (milliseconds of this device's clock; missing: now) is new enough: of many tabs that
 * look after the same news the first fetches, and the others have its answer.
 */
export async function refresh(
  db: DB,
  event: string,
  name: BundleName | PageName,
  fetchOne: Fetch = fetches[name as BundleName],
  since = Date.now()
): Promise<Refreshed> {
  for (;;) {
    const kept = await db.get('bundle', [event, name]);
    if (kept && isNew(kept, since)) return { bundle: kept, another: true };
    const lock = `sextant-fetch-${event}-${name}`;
    const done = await oneOf(lock, () => fetchNow(db, event, name, fetchOne, since));
    if (done) return done;
  }
}

/**
 * Whether a copy was asked for after the news. (A clock that was set back makes old
 * answers look like that; those are asked for again.)
 */
const isNew = ({ asked, stale }: Bundle, since: number): boolean =>
  asked !== undefined && since < asked && asked <= Date.now() && !stale;

async function fetchNow(
  db: DB,
  event: string,
  name: BundleName | PageName,
  fetchOne: Fetch,
  since: number
): Promise<Refreshed> {
  const old = await db.get('bundle', [event, name]);
  if (old && isNew(old, since)) return { bundle: old, another: true };
  const asked = Date.now();
  const answer = await fetchOne(event, old?.etag);
  const kept = { stale: false, at: new Date().toISOString(), asked };
  const another = answer.value !== undefined;
  const bundle = another
    ? { event, name, value: answer.value, etag: answer.etag, ...kept }
    : old && { ...old, ...kept };
  try {
    if (bundle) await db.put('bundle', bundle);
  } catch (error) {
    throw inWords(error);
  }
  return { bundle, another };
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

/**
 * The estimates as they were before today: the last answer of an earlier day,
 * kept on this device, so that one can tell in the evening what the day changed.
 */
import type { Estimates } from '$lib/api';
import { day, knownTime } from '$lib/figures';
import type { DB } from '$lib/offline';

export interface Earlier {
  estimates: Estimates;
  /** When they were last known to be the server's answer (ISO time of this device). */
  at: string;
}

/** Keeps the estimates that are here if they are of an earlier day than now; call it before newer ones come. */
export async function keepEarlier(db: DB, event: string, zone: string, now: Date): Promise<void> {
  const here = await db.get('bundle', [event, 'estimates']);
  const at = knownTime(here?.at);
  if (!here || !at || at >= now || day(at, zone) === day(now, zone)) return;
  await db.put('bundle', { ...here, name: 'estimates/earlier', etag: undefined });
}

/** What keepEarlier kept last; undefined: this device has nothing from before today. */
export async function readEarlier(db: DB, event: string): Promise<Earlier | undefined> {
  const found = await db.get('bundle', [event, 'estimates/earlier']);
  return found && { estimates: found.value as Estimates, at: found.at };
}

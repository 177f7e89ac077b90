/** Which bundles this device has shown, so that a receipt can be told to what it belongs. */
import { readReceipt, receipt, type Keys } from '$lib/carry';
import { announce, database, handOver, meta, setMeta } from '$lib/offline';

interface Shown {
  bundle: string;
  revisions: string[];
}

/** Enough for a day; who comes with an older receipt shows the records once more. */
const MOST = 40;
const place = (event: string) => `carry/shown/${event}`;

export async function remember(event: string, bundle: string, revisions: string[]): Promise<void> {
  const before = (await meta<Shown[]>(place(event))) ?? [];
  await setMeta(
    place(event),
    [...before.filter((s) => s.bundle !== bundle), { bundle, revisions }].slice(-MOST)
  );
}

/** Notes that a lead's device has these. Returns how many. */
export async function noteHanded(event: string, revisions: string[]): Promise<number> {
  await handOver(await database(), revisions);
  announce({ event, outbox: true });
  return revisions.length;
}

/** Notes what a receipt says. Returns how many records it is about; undefined: it is none of this device's. */
export async function takeReceipt(
  event: string,
  typed: string,
  keys: Keys | undefined
): Promise<number | undefined> {
  const given = readReceipt(typed);
  if (!given) return undefined;
  for (const { bundle, revisions } of (await meta<Shown[]>(place(event))) ?? [])
    if ((await receipt(bundle, keys)) === given) return noteHanded(event, revisions);
  return undefined;
}

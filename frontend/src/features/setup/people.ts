// Who entered something when, and on how many devices.

import type { Revision } from '$lib/api';
import { knownTime } from '$lib/figures';

export interface Seen {
  /** The last entry, by the device's clock. */
  at: Date;
  devices: number;
}

/** By nickname, of those who entered anything. */
export function seenOf(
  revisions: readonly Pick<Revision, 'author' | 'device_id' | 'made_at'>[]
): Map<string, Seen> {
  const devices = new Map<string, Set<string>>();
  const out = new Map<string, Seen>();
  for (const r of revisions) {
    const at = knownTime(r.made_at);
    if (!at) continue;
    const of = devices.get(r.author) ?? new Set();
    devices.set(r.author, r.device_id ? of.add(r.device_id) : of);
    const before = out.get(r.author);
    out.set(r.author, { at: before && before.at > at ? before.at : at, devices: of.size });
  }
  return out;
}

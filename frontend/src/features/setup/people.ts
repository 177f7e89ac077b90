// Who entered something when, on which devices, and what came from devices that were signed out.

import type { Held, Member, Revision } from '$lib/api';
import { ago, knownTime } from '$lib/figures';

/** "iPad, 4 min ago; Chromebook, 3 h ago": where somebody is signed in, and when that was last heard of. */
export function sayDevices(devices: Member['devices'], now: Date): string {
  return (devices ?? [])
    .map((d) => {
      const at = knownTime(d.last_seen_at);
      return [d.kind || 'a device', at && ago(at, now)].filter(Boolean).join(', ');
    })
    .join('; ');
}

export interface FromDevice {
  device: string;
  /** The nicknames under which it sent. */
  names: string[];
  /** Its revisions as a tablet's file has them, one a line. */
  text: string;
}

/** What is kept apart, by device in the order given. */
export function byDevice(items: readonly Held[]): FromDevice[] {
  const out = new Map<string, FromDevice>();
  for (const { item, author, role, device_id } of items) {
    const of = out.get(device_id) ?? { device: device_id, names: [], text: '' };
    if (!of.names.includes(author)) of.names.push(author);
    of.text += JSON.stringify({ ...(item as object), author, role, device_id }) + '\n';
    out.set(device_id, of);
  }
  return [...out.values()];
}

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

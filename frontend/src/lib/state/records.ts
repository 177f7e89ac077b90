/** Records of a kind as they stand in memory. */
import type { StoredRecord } from '$lib/offline';

/** All of them with these new or in the place of older ones, in the order of their ids as the database has it. */
export function withRecords(all: readonly StoredRecord[], more: readonly StoredRecord[]): StoredRecord[] {
  const byId = new Map(all.map((r) => [r.record_id, r]));
  const known = byId.size;
  for (const r of more) byId.set(r.record_id, r);
  const out = [...byId.values()];
  return byId.size === known ? out : out.sort((a, b) => (a.record_id < b.record_id ? -1 : 1));
}

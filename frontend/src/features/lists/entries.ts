// From records to lists and entries, and from changes to records.

import type { EntryBody, ListBody } from '$lib/api';
import { entryId, type Change as RecordChange } from '$lib/offline';
import type { Change, Entry } from './order';

interface Entered<B> {
  record_id: string;
  body: B;
  conflict: boolean;
}

export interface PickList {
  id: string;
  name: string;
  purpose: string;
  entries: number;
  never: number;
  /** When it was copied to stay as it was; undefined: people work on it. */
  frozen: string | undefined;
}

/** The lists that were not removed, in order of name. */
export function listsOf(
  lists: readonly Entered<ListBody>[],
  entries: readonly Entered<EntryBody>[]
): PickList[] {
  const counts = new Map<string, { entries: number; never: number }>();
  for (const { body } of entries) {
    if (body.removed || !body.team) continue;
    const count = counts.get(body.list) ?? { entries: 0, never: 0 };
    count[body.never ? 'never' : 'entries']++;
    counts.set(body.list, count);
  }
  return lists
    .filter((l) => !l.body.removed)
    .map((l) => ({
      id: l.record_id,
      name: l.body.name || 'A list without a name',
      purpose: l.body.purpose ?? '',
      frozen: l.body.frozen,
      entries: counts.get(l.record_id)?.entries ?? 0,
      never: counts.get(l.record_id)?.never ?? 0
    }))
    .sort((a, b) => (a.name < b.name ? -1 : a.name > b.name ? 1 : a.id < b.id ? -1 : 1));
}

/**
 * The entries of a list. One whose first revision has not arrived yet (no team
 * or key) is left out until it has.
 */
export function entriesOf(list: string, records: readonly Entered<EntryBody>[]): Entry[] {
  return records
    .filter((r) => r.body.list === list && r.body.team && r.body.key && !r.body.removed)
    .map((r) => ({
      team: r.body.team,
      key: r.body.key,
      tier: r.body.tier,
      never: r.body.never ?? false,
      reason: r.body.reason ?? '',
      note: r.body.note ?? '',
      conflict: r.conflict
    }));
}

/** Changes of entries as changes of records. */
export function recordChanges(list: string, changes: readonly Change[]): RecordChange<'entry'>[] {
  return changes.map(({ team, set }) => ({ kind: 'entry', recordId: entryId(list, team), body: set }));
}

// Versions of one record: what each step of its history changed, who disagrees
// with whom, and the body of the revision that settles it or goes back.

import type { Role } from '$lib/api';
import { isMerged, resolve, rivals, same, seenBy, type LocalRevision, type StoredRecord } from '$lib/offline';
import type { Field } from './fields';

type Body = Record<string, unknown>;
type Versions = Pick<StoredRecord, 'kind' | 'revisions' | 'body' | 'disputed'>;

/** What the record said once a revision was made, as its author saw it. */
export function stateAt(record: Versions, id: string): Body {
  if (!isMerged(record.kind)) return record.revisions.find((r) => r.revision_id === id)?.body ?? {};
  return resolve(seenBy(record.revisions, id)).body;
}

/** All revisions, the newest first: each comes before what it was built upon. */
export function newestFirst(revisions: readonly LocalRevision[]): LocalRevision[] {
  return [...revisions].sort(
    (a, b) =>
      b.lamport - a.lamport || (a.revision_id < b.revision_id ? 1 : a.revision_id > b.revision_id ? -1 : 0)
  );
}

export interface Difference {
  id: string;
  label: string;
  from?: string;
  to?: string;
}

/** What differs between two lists of fields, in their order. */
export function differences(before: readonly Field[], after: readonly Field[]): Difference[] {
  const old = new Map(before.map((f) => [f.id, f]));
  const out: Difference[] = [];
  for (const f of after) {
    const was = old.get(f.id);
    old.delete(f.id);
    if (!was) out.push({ id: f.id, label: f.label, to: f.text });
    else if (!same(was.raw, f.raw)) out.push({ id: f.id, label: f.label, from: was.text, to: f.text });
  }
  for (const f of old.values()) out.push({ id: f.id, label: f.label, from: f.text });
  return out;
}

/** What the author of a revision had before; undefined: it is the first of its line. */
export function stateBefore(record: Versions, revision: LocalRevision): Body | undefined {
  const known = revision.parents.filter((id) => record.revisions.some((r) => r.revision_id === id));
  if (known.length === 0) return undefined;
  // Where versions were joined: what came out of them.
  return resolve(known.flatMap((id) => seenBy(record.revisions, id))).body;
}

/** Of a revision that settled a disagreement: whose version it took over; undefined: it is something else. */
export function decidedFor(record: Versions, revision: LocalRevision): LocalRevision | undefined {
  if (isMerged(record.kind)) return undefined;
  const joined = record.revisions.filter((r) => revision.parents.includes(r.revision_id));
  return joined.length > 1 ? joined.find((r) => same(r.body, revision.body)) : undefined;
}

/** One of the versions among which somebody has to decide. */
export interface Version {
  /** Those who say so, the one that counts first. */
  by: LocalRevision[];
  /** Of a merged kind the disputed members alone. */
  body: Body;
}

/** The versions that disagree, the one that counts first; those that say the same are one. */
export function versionsOf(record: Versions): Version[] {
  const out: Version[] = [];
  for (const revision of rivals(record.revisions)) {
    const body = isMerged(record.kind)
      ? Object.fromEntries(
          record.disputed.filter((m) => Object.hasOwn(revision.body, m)).map((m) => [m, revision.body[m]])
        )
      : revision.body;
    const twin = out.find((v) => same(v.body, body));
    if (twin) twin.by.push(revision);
    else out.push({ by: [revision], body });
  }
  return out;
}

/**
 * The body of a revision that takes the record back to what it said at an
 * earlier one; undefined: it says that already. A member that was added since
 * is taken away.
 */
export function backTo(record: Versions, id: string): Body | undefined {
  const then = stateAt(record, id);
  if (!isMerged(record.kind)) return same(then, record.body) ? undefined : then;
  const patch: Body = {};
  for (const name of new Set([...Object.keys(then), ...Object.keys(record.body)])) {
    if (!same(then[name], record.body[name])) patch[name] = then[name] ?? null;
  }
  return Object.keys(patch).length > 0 ? patch : undefined;
}

/** Who may write records of a kind: the server's table, for offering no button that it would refuse. */
export function mayWrite(kind: string, role: Role | undefined, own: boolean): boolean {
  if (role === 'lead') return true;
  if (role === 'coach') return ['list', 'entry', 'note'].includes(kind);
  return role === 'scout' && kind === 'observation' && own;
}

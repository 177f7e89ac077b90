/**
 * Which revision of a record counts: the same pure function of the set as
 * stats/record/revision.go, held together by testdata/revisions.
 */
import type { Revision, Role } from '../api/types';

export interface Resolved {
  /** The revision that counts; empty: there is none. */
  head: string;
  /** All that nobody has built upon, the one that counts first. */
  heads: string[];
  conflict: boolean;
  /** Members of a merged kind that are in conflict, sorted. */
  disputed: string[];
  body: Record<string, unknown>;
}

const weight: Record<Role, number> = { lead: 3, coach: 2, scout: 1 };
const merged = new Set(['list', 'entry', 'note', 'sketch', 'agreement', 'debrief']);

/** Whether the bodies of a kind are patches, merged member by member. */
export const isMerged = (kind: string): boolean => merged.has(kind);

/** Order, repetition and any device's clock have no say. */
export function resolve(revisions: Revision[]): Resolved {
  const revs = distinct(revisions).sort(rank);
  const best = revs[0];
  if (!best) return { head: '', heads: [], conflict: false, disputed: [], body: {} };

  const related = relations(revs);
  const heads = survivors(revs, related);
  const head = heads[0] ?? best;
  const ids = heads.map((r) => r.revision_id);
  if (!isMerged(head.kind)) {
    return { head: head.revision_id, heads: ids, conflict: heads.length > 1, disputed: [], body: head.body };
  }

  const body: Record<string, unknown> = {};
  const disputed: string[] = [];
  const patches = revs.filter((r) => isMerged(r.kind) && isObject(r.body));
  const names = new Set(patches.flatMap((r) => Object.keys(r.body)));
  for (const name of [...names].filter((n) => n !== '').sort()) {
    const setters = survivors(
      patches.filter((r) => Object.hasOwn(r.body, name)),
      related
    );
    const value = setters[0]?.body[name];
    if (value !== null) body[name] = value;
    if (setters.some((r) => !same(r.body[name], value))) disputed.push(name);
  }
  return { head: head.revision_id, heads: ids, conflict: disputed.length > 0, disputed, body };
}

/**
 * The revisions among which somebody has to decide, the one that counts first:
 * those that nobody has built upon; of a merged kind those that set a disputed
 * member to something. Fewer than two: there is nothing to decide.
 */
export function rivals<R extends Revision>(revisions: R[]): R[] {
  const { conflict, disputed, heads, head } = resolve(revisions);
  if (!conflict) return [];
  const byId = new Map(revisions.map((r) => [r.revision_id, r]));
  if (!isMerged(byId.get(head)?.kind ?? '')) return heads.flatMap((id) => byId.get(id) ?? []);
  const revs = [...byId.values()].sort(rank);
  const related = relations(revs);
  const competing = new Set(
    disputed.flatMap((name) =>
      survivors(
        revs.filter((r) => Object.hasOwn(r.body, name)),
        related
      )
    )
  );
  return revs.filter((r) => competing.has(r));
}

/** A revision and all that it was built upon: what its author had seen. */
export function seenBy<R extends Revision>(revisions: R[], id: string): R[] {
  const above = relations(revisions).get(id);
  return revisions.filter((r) => r.revision_id === id || above?.has(r.revision_id));
}

function rank(a: Revision, b: Revision): number {
  return (
    (weight[b.role] ?? 0) - (weight[a.role] ?? 0) ||
    b.lamport - a.lamport ||
    (a.revision_id < b.revision_id ? 1 : a.revision_id > b.revision_id ? -1 : 0)
  );
}

/** Repeated ids count once; two different revisions with one id are settled by content. */
function distinct(revisions: Revision[]): Revision[] {
  const seen = new Map<string, Revision>();
  for (const r of revisions) {
    const other = seen.get(r.revision_id);
    if (!other || JSON.stringify(r) > JSON.stringify(other)) seen.set(r.revision_id, r);
  }
  return [...seen.values()];
}

/** For each revision the ids that can be reached through its parents. */
function relations(revs: Revision[]): Map<string, Set<string>> {
  const byId = new Map(revs.map((r) => [r.revision_id, r]));
  const above = new Map<string, Set<string>>();
  for (const r of revs) {
    const seen = new Set<string>();
    const todo = [r.revision_id];
    for (let id = todo.pop(); id !== undefined; id = todo.pop()) {
      for (const parent of byId.get(id)?.parents ?? []) {
        if (!byId.has(parent) || seen.has(parent)) continue;
        seen.add(parent);
        todo.push(parent);
      }
    }
    above.set(r.revision_id, seen);
  }
  return above;
}

/** Drops those that are ancestors of another; two that name each other count as concurrent. */
function survivors(revs: Revision[], above: Map<string, Set<string>>): Revision[] {
  return revs.filter(
    (x) =>
      !revs.some(
        (y) =>
          y !== x &&
          above.get(y.revision_id)?.has(x.revision_id) &&
          !above.get(x.revision_id)?.has(y.revision_id)
      )
  );
}

function isObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/** Equal as JSON values; members may stand in any order. */
export function same(a: unknown, b: unknown): boolean {
  if (a === b) return true;
  if (Array.isArray(a) && Array.isArray(b)) return a.length === b.length && a.every((v, i) => same(v, b[i]));
  if (isObject(a) && isObject(b)) {
    const keys = Object.keys(a);
    return (
      keys.length === Object.keys(b).length && keys.every((k) => Object.hasOwn(b, k) && same(a[k], b[k]))
    );
  }
  return false;
}

import type { EntryBody, Revision } from '$lib/api';
import { entryId, resolve } from '$lib/offline';
import { describe, expect, it } from 'vitest';
import { entriesOf } from './entries';
import {
  append,
  inOrder,
  moveBy,
  place,
  sectionOf,
  toRank,
  toSection,
  toTop,
  type Change,
  type Entry,
  type SectionId
} from './order';

const LIST = '6ba7b810-9dad-11d1-80b4-00c04fd430c8';
const TEAMS = Array.from({ length: 9 }, (_, i) => String(i + 1));

/** Numbers from 0 to 1 that are the same each time (mulberry32). */
function draws(seed: number): () => number {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** Somebody with a device: the revisions that are on it, by record. */
class Editor {
  readonly #name: string;
  #made = 0;
  revisions = new Map<string, Revision[]>();

  constructor(name: string) {
    this.#name = name;
  }

  entries(): Entry[] {
    const records = [...this.revisions].map(([record_id, revs]) => {
      const { body, conflict } = resolve(revs);
      return { record_id, body: body as unknown as EntryBody, conflict };
    });
    return entriesOf(LIST, records);
  }

  make(changes: readonly Change[]): void {
    for (const { team, set } of changes) {
      const id = entryId(LIST, team);
      const before = this.revisions.get(id) ?? [];
      const revision = {
        revision_id: `${this.#name}-${String(this.#made++).padStart(6, '0')}`,
        record_id: id,
        parents: resolve(before).heads,
        kind: 'entry',
        lamport: Math.max(0, ...before.map((r) => r.lamport)) + 1,
        role: 'lead',
        body: set
      } as unknown as Revision;
      this.revisions.set(id, [...before, revision]);
    }
  }

  hear(other: Editor): void {
    for (const [id, theirs] of other.revisions) {
      const ours = this.revisions.get(id) ?? [];
      const known = new Set(ours.map((r) => r.revision_id));
      this.revisions.set(id, [...ours, ...theirs.filter((r) => !known.has(r.revision_id))]);
    }
  }
}

function anyMove(entries: readonly Entry[], random: () => number): Change[] {
  const pick = <T>(all: readonly T[]): T => all[Math.floor(random() * all.length)]!;
  const team = pick(entries).team;
  const section = pick<SectionId>([1, 2, 'none', 'never']);
  return pick([
    () => place(entries, team, sectionOf(pick(entries)), Math.floor(random() * entries.length)),
    () => moveBy(entries, team, pick([-1, 1])),
    () => toTop(entries, team),
    () => toRank(entries, team, 1 + Math.floor(random() * entries.length)),
    () => toSection(entries, team, section)
  ])();
}

const order = (e: Editor) => inOrder(e.entries()).map((x) => x.team);

describe('several people move robots at once, each without having heard the others', () => {
  const rounds = Array.from({ length: 60 }, (_, seed) => seed);

  it.each(rounds)(
    'draw %i: all end with one list, on which every move stands that nobody contradicted',
    (seed) => {
      const random = draws(seed);
      const editors = ['a', 'b', 'c'].map((n) => new Editor(n));
      editors[0]!.make(append([], LIST, TEAMS));
      for (let round = 0; round < 6; round++) {
        for (const e of editors) for (const other of editors) e.hear(other);
        const touched = editors.map((e) => {
          const own = new Set<string>();
          for (let n = 0; n < 1 + random() * 3; n++) {
            const changes = anyMove(e.entries(), random);
            changes.forEach((c) => own.add(c.team));
            e.make(changes);
          }
          return own;
        });
        const alone = editors.map((e) => ({ entries: e.entries(), order: order(e) }));
        // In whatever order they hear of each other, and twice.
        for (const e of [...editors].sort(() => random() - 0.5))
          for (const other of [...editors, ...editors].sort(() => random() - 0.5)) e.hear(other);
        for (const e of editors) for (const other of editors) e.hear(other);

        const merged = order(editors[0]!);
        for (const e of editors) expect(order(e)).toEqual(merged);
        expect([...merged].sort()).toEqual(TEAMS);
        editors.forEach((_, i) => {
          const free = TEAMS.filter((t) => !touched.some((own, j) => j !== i && own.has(t)));
          // Among robots that nobody else touched, the order is what this one left.
          expect(merged.filter((t) => free.includes(t))).toEqual(
            alone[i]!.order.filter((t) => free.includes(t))
          );
          // And each of them is in the tier where this one put it.
          const tier = (all: Entry[], t: string) => sectionOf(all.find((e) => e.team === t)!);
          for (const t of free) expect(tier(editors[0]!.entries(), t)).toBe(tier(alone[i]!.entries, t));
        });
      }
    }
  );

  it('two put different robots at the same place: both are there, and a third fits between them', () => {
    const [a, b] = [new Editor('a'), new Editor('b')];
    a.make(append([], LIST, TEAMS));
    b.hear(a);
    a.make(place(a.entries(), '8', 'none', 1));
    b.make(place(b.entries(), '9', 'none', 1));
    a.hear(b);
    b.hear(a);
    expect(order(a)).toEqual(['1', '8', '9', '2', '3', '4', '5', '6', '7']);
    a.make(place(a.entries(), '7', 'none', 2));
    b.hear(a);
    expect(order(b)).toEqual(['1', '8', '7', '9', '2', '3', '4', '5', '6']);
  });
});

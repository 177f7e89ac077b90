import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { fileName, picklistCsv } from './csv';
import {
  append,
  inOrder,
  inverse,
  moveBy,
  nextTier,
  orderBy,
  place,
  reordered,
  sectionsOf,
  toRank,
  toSection,
  toTop,
  type Change,
  type Entry
} from './order';

const entry = (team: string, key: string, more: Partial<Entry> = {}): Entry => ({
  team,
  key,
  never: false,
  reason: '',
  note: '',
  conflict: false,
  ...more
});

/** Applies changes as the records do: member by member, null takes away, removed hides. */
function apply(entries: readonly Entry[], changes: readonly Change[]): Entry[] {
  const by = new Map(entries.map((e) => [e.team, { ...e }]));
  for (const { team, set } of changes) {
    if (set.removed) {
      by.delete(team);
      continue;
    }
    const e = by.get(team) ?? entry(team, '');
    if (set.key) e.key = set.key;
    if ('tier' in set) e.tier = set.tier ?? undefined;
    if ('never' in set) e.never = set.never ?? false;
    if ('reason' in set) e.reason = set.reason ?? '';
    if ('note' in set) e.note = set.note ?? '';
    by.set(team, e);
  }
  return [...by.values()];
}

const teams = (entries: readonly Entry[]) => inOrder(entries).map((e) => e.team);

const plain = [entry('1', 'a0'), entry('2', 'a1'), entry('3', 'a2'), entry('4', 'a3')];
const tiers = [
  entry('1', 'a0', { tier: 1 }),
  entry('2', 'a1', { tier: 1 }),
  entry('3', 'a0', { tier: 2 }),
  entry('4', 'a1', { tier: 2 }),
  entry('5', 'a0'),
  entry('6', 'a0', { never: true, tier: 1, reason: 'tips over' })
];

describe('sections', () => {
  it('stand tiers first, then without a tier, then never', () => {
    expect(sectionsOf(tiers).map((s) => [s.id, s.entries.map((e) => e.team)])).toEqual([
      [1, ['1', '2']],
      [2, ['3', '4']],
      ['none', ['5']],
      ['never', ['6']]
    ]);
  });

  it('order equal keys by team, the same on every device', () => {
    const same = [entry('20', 'a0'), entry('3', 'a0'), entry('100', 'a0')];
    expect(teams(same)).toEqual(['3', '20', '100']);
    expect(teams([...same].reverse())).toEqual(['3', '20', '100']);
  });

  it('name the next free tier', () => {
    expect(nextTier(plain)).toBe(1);
    expect(nextTier(tiers)).toBe(3);
    expect(nextTier([entry('1', 'a0', { tier: 9 })])).toBeUndefined();
  });
});

describe('moves', () => {
  it('change one entry only', () => {
    const changes = place(plain, '4', 'none', 1);
    expect(changes).toHaveLength(1);
    expect(teams(apply(plain, changes))).toEqual(['1', '4', '2', '3']);
  });

  it('say nothing when the entry stands there already', () => {
    expect(place(plain, '2', 'none', 1)).toEqual([]);
    expect(place(tiers, '6', 'never', 0)).toEqual([]);
  });

  it.each([
    ['up', '3', -1, ['1', '3', '2', '4']],
    ['down', '1', 1, ['2', '1', '3', '4']],
    ['not above the first', '1', -1, ['1', '2', '3', '4']],
    ['not below the last', '4', 1, ['1', '2', '3', '4']]
  ] as const)('by one: %s', (_, team, step, want) => {
    expect(teams(apply(plain, moveBy(plain, team, step)))).toEqual(want);
  });

  it('go over the edge of a tier without changing the order', () => {
    const down = apply(tiers, moveBy(tiers, '2', 1));
    expect(down.find((e) => e.team === '2')?.tier).toBe(2);
    expect(teams(down)).toEqual(['1', '2', '3', '4', '5', '6']);
    const up = apply(tiers, moveBy(tiers, '5', -1));
    expect(up.find((e) => e.team === '5')?.tier).toBe(2);
    expect(teams(up)).toEqual(['1', '2', '3', '4', '5', '6']);
  });

  it('never lead into never-pick by a step', () => {
    expect(moveBy(tiers, '5', 1)).toEqual([]);
    expect(moveBy(tiers, '6', -1)).toEqual([]);
  });

  it('to the top and to a tier', () => {
    expect(teams(apply(tiers, toTop(tiers, '4')))).toEqual(['4', '1', '2', '3', '5', '6']);
    const third = apply(plain, toSection(plain, '2', 1));
    expect(teams(third)).toEqual(['2', '1', '3', '4']);
  });

  it('out of never-pick keep the reason for the next time', () => {
    const back = apply(tiers, toSection(tiers, '6', 2));
    expect(back.find((e) => e.team === '6')).toMatchObject({ never: false, tier: 2, reason: 'tips over' });
  });

  it('between two entries with the same key give both room', () => {
    const twice = [entry('1', 'a0'), entry('2', 'a1'), entry('3', 'a1'), entry('4', 'a1'), entry('5', 'a2')];
    const after = apply(twice, place(twice, '5', 'none', 2));
    expect(teams(after)).toEqual(['1', '2', '5', '3', '4']);
    expect(new Set(after.map((e) => e.key)).size).toBe(5);
  });

  it('of two people that touch different entries both survive, in any order', () => {
    const mine = moveBy(plain, '4', -1);
    const theirs = toTop(plain, '2');
    const one = teams(apply(apply(plain, mine), theirs));
    const other = teams(apply(apply(plain, theirs), mine));
    expect(one).toEqual(other);
    expect(one).toEqual(['2', '1', '4', '3']);
  });

  it('can be taken back', () => {
    for (const changes of [
      moveBy(tiers, '2', 1),
      toTop(tiers, '6'),
      append(tiers, 'L', ['7', '8']),
      orderBy(tiers, (t) => Number(t))
    ]) {
      expect(changes.length).toBeGreaterThan(0);
      const back = apply(apply(tiers, changes), inverse(tiers, changes));
      expect(teams(back)).toEqual(teams(tiers));
      expect(back.map((e) => e.tier)).toEqual(tiers.map((e) => e.tier));
    }
  });
});

describe('filling', () => {
  it('adds at the end, in the order given, and nobody twice', () => {
    const changes = append(plain, 'L', ['9', '2', '7']);
    expect(changes.map((c) => c.team)).toEqual(['9', '7']);
    expect(changes[0]?.set).toMatchObject({ list: 'L', team: '9', removed: false });
    expect(teams(apply(plain, changes))).toEqual(['1', '2', '3', '4', '9', '7']);
  });

  it('orders inside each tier and leaves never-picks alone', () => {
    const after = apply(
      tiers,
      orderBy(tiers, (t) => Number(t))
    );
    expect(teams(after)).toEqual(['2', '1', '4', '3', '5', '6']);
    expect(orderBy(plain, (t) => -Number(t))).toEqual([]);
  });

  it('says beforehand what ordering would do', () => {
    const figure = (t: string) => (t === '4' ? undefined : Number(t));
    const moves = reordered(tiers, figure);
    expect(moves).toEqual([
      { team: '2', from: 2, to: 1 },
      { team: '1', from: 1, to: 2 },
      { team: '3', from: 3, to: 3 },
      { team: '4', from: 4, to: 4 },
      { team: '5', from: 5, to: 5 }
    ]);
    const after = inOrder(apply(tiers, orderBy(tiers, figure))).filter((e) => !e.never);
    expect(after.map((e) => e.team)).toEqual(moves.map((m) => m.team));
  });

  it.each([
    ['5', 1, ['5', '1', '2', '3', '4', '6'], 1],
    ['1', 3, ['2', '3', '1', '4', '5', '6'], 2],
    ['1', 99, ['2', '3', '4', '5', '1', '6'], undefined],
    ['3', 3, ['1', '2', '3', '4', '5', '6'], 2],
    ['6', 2, ['1', '6', '2', '3', '4', '5'], 1]
  ] as const)('puts %s at the typed place %i', (team, rank, want, tier) => {
    const after = apply(tiers, toRank(tiers, team, rank));
    expect(teams(after)).toEqual([...want]);
    expect(after.find((e) => e.team === team)?.tier).toBe(tier);
  });

  it('leaves those without a figure last, in their order', () => {
    const after = apply(
      plain,
      orderBy(plain, (t) => (t === '4' ? 10 : undefined))
    );
    expect(teams(after)).toEqual(['4', '1', '2', '3']);
  });

  it('holds a thousand moves to the same place', () => {
    let entries = plain;
    for (let i = 0; i < 1000; i++) {
      const last = inOrder(entries).at(-1)!;
      entries = apply(entries, place(entries, last.team, 'none', 1));
    }
    expect(new Set(entries.map((e) => e.key)).size).toBe(4);
  });
});

describe('the file', () => {
  it('has a row for each entry in order, never-picks last with their reason', () => {
    const text = picklistCsv([...tiers, entry('7', 'a1', { note: '=HYPERLINK("x")' })]);
    expect(text.split('\r\n')).toEqual([
      'rank,team,tier,never,reason,note',
      '1,1,1,0,,',
      '2,2,1,0,,',
      '3,3,2,0,,',
      '4,4,2,0,,',
      '5,5,,0,,',
      `6,7,,0,,"'=HYPERLINK(""x"")"`,
      '7,6,1,1,tips over,',
      ''
    ]);
  });

  interface Vector {
    name: string;
    entries: Partial<Entry>[];
    rows: string[];
  }
  const vectors = JSON.parse(readFileSync('../testdata/picklist/picklist.json', 'utf8')) as Vector[];
  it.each(vectors.map((v) => [v.name, v] as const))('is the same as the server writes: %s', (_, v) => {
    const all = v.entries.map((e) => entry(e.team ?? '', e.key ?? '', e));
    expect(picklistCsv(all)).toBe(v.rows.map((row) => `${row}\r\n`).join(''));
  });

  it('has a name that every system takes', () => {
    expect(fileName('First picks, für uns!')).toBe('first-picks-fur-uns.csv');
    expect(fileName('  ')).toBe('picklist.csv');
  });
});

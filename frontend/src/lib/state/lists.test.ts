import type { EntryBody, TeamEstimate } from '$lib/api';
import { entryId } from '$lib/offline';
import { describe, expect, test } from 'vitest';
import { againstNumbers, better, copyOf, inListOrder, togetherOf } from './lists';

const e = (team: string, now: number, now_sd = 2): TeamEstimate =>
  ({ team, now, now_sd, points: now, sd: now_sd, matches: 5, watched: 5 }) as unknown as TeamEstimate;
const by = (...all: TeamEstimate[]) => new Map(all.map((x) => [x.team, x]));

describe('a list', () => {
  const apart = () => 0;

  test('what is not known of both alike does not blur their difference', () => {
    // Var(a − b) = 25 + 25 − 2·23 = 4: a difference of 2 is one standard deviation.
    const together = togetherOf({
      teams: [e('1', 10, 5), e('2', 12, 5), e('3', 12, 5)],
      together: [[], [23], [0, 0]]
    });
    expect(together('1', '2')).toBe(23);
    expect(together('2', '1')).toBe(23);
    expect(together('1', '9')).toBe(0);
    expect(better(e('1', 10, 5), e('2', 12, 5), together)).toBeCloseTo(0.8413, 4);
    expect(better(e('1', 10, 5), e('3', 12, 5), together)).toBeCloseTo(0.6114, 4);
    // A pair of whom the better stands below is against the numbers only if that is sure.
    const known = by(e('1', 10, 5), e('2', 14, 5));
    expect(againstNumbers(['1', '2'], known, together)).toHaveLength(2);
    expect(againstNumbers(['1', '2'], known, apart)).toEqual([]);
  });

  test('two normal quantities: the chance that the second is larger', () => {
    expect(better(e('1', 10, 3), e('2', 10, 4), apart)).toBeCloseTo(0.5, 6);
    // A difference of 5 with a standard deviation of 5: the standard normal
    // distribution function at 1 is 0.8413 (any table of it).
    expect(better(e('1', 10, 3), e('2', 15, 4), apart)).toBeCloseTo(0.8413, 4);
    expect(better(e('1', 10, 0), e('2', 11, 0), apart)).toBe(1);
    expect(better(e('1', 10, 0), e('2', 10, 0), apart)).toBe(0.5);
  });

  test('against the numbers: only what they surely do not allow', () => {
    const sharp = by(e('1', 50), e('2', 40), e('3', 30), e('4', 20));
    expect(againstNumbers(['1', '2', '3', '4'], sharp, apart)).toEqual([]);
    expect(againstNumbers(['4', '1', '2', '3'], sharp, apart)).toEqual([
      { team: '4', place: 1, from: 4, to: 4, by: 4 },
      { team: '1', place: 2, from: 1, to: 1, by: 1 },
      { team: '2', place: 3, from: 2, to: 2, by: 2 },
      { team: '3', place: 4, from: 3, to: 3, by: 3 }
    ]);
    const wide = by(e('1', 50, 40), e('2', 45, 40), e('3', 40, 40), e('4', 35, 40));
    expect(againstNumbers(['4', '3', '2', '1'], wide, apart)).toEqual([]);
    // Of whom nothing is known is left out, and its place stays its place.
    expect(againstNumbers(['9', '1', '2'], sharp, apart).map((x) => x.team)).toEqual(['1', '2']);
  });

  test('is in the order in which robots are called', () => {
    const entry = (team: string, key: string, more: object = {}) => ({ list: 'l', team, key, ...more });
    const order = inListOrder('l', [
      entry('5', 'a0', { never: true, tier: 1 }),
      entry('4', 'a9'),
      entry('3', 'a1', { tier: 2 }),
      entry('2', 'a2', { tier: 1 }),
      entry('1', 'a1', { tier: 1 }),
      entry('6', 'a0', { removed: true }),
      { ...entry('7', 'a0'), list: 'other' }
    ]);
    expect(order.map((x) => x.team)).toEqual(['1', '2', '3', '4', '5']);
  });

  test('is copied with what its entries say, and nothing of where they were', () => {
    const id = '018f3c2e-8c2b-7d4e-8f50-2b3c4d5e6f70';
    const entries: EntryBody[] = [
      { list: 'other', team: '40117', key: 'a1', tier: 2, note: 'fast', removed: false },
      { list: 'other', team: '40118', key: 'a0', never: true, reason: 'tips over' }
    ];
    expect(copyOf(entries, id, { name: 'Copy', frozen: '2031-03-06T21:15:00.000Z' })).toEqual([
      { kind: 'list', recordId: id, body: { name: 'Copy', frozen: '2031-03-06T21:15:00.000Z' } },
      {
        kind: 'entry',
        recordId: entryId(id, '40117'),
        body: { list: id, team: '40117', key: 'a1', tier: 2, note: 'fast' }
      },
      {
        kind: 'entry',
        recordId: entryId(id, '40118'),
        body: { list: id, team: '40118', key: 'a0', never: true, reason: 'tips over' }
      }
    ]);
  });
});

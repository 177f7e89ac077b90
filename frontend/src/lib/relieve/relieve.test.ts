import { expect, test } from 'vitest';
import { limitOf, relief } from './relieve';

const all = [
  { scout: 's07', matches: 9, trend: 2.9, less: true },
  { scout: 's04', matches: 10, trend: 0.1, less: false },
  { scout: 's05', matches: 12, less: false },
  { scout: 's01', matches: 11, trend: 3, less: true },
  { scout: 's02', matches: 0, trend: 3.2, less: false }
];

test('who counts less surely or has been on for longer than the limit is told, in order of name', () => {
  expect(relief(all, 10).map((r) => `${r.scout} ${r.text}`)).toEqual([
    's01 has been on for 11 matches without a break and counts less surely than earlier today: time for a break.',
    's05 has been on for 12 matches without a break: time for one.',
    's07 has been on for 9 matches and counts less surely than earlier today: time for a break.'
  ]);
});

test('without a limit only those who count less surely', () => {
  expect(relief(all, 0).map((r) => r.scout)).toEqual(['s01', 's07']);
  expect(relief([], 3)).toEqual([]);
});

test('the limit is the rota’s, if its breaks can be seen', () => {
  const rota = { people: [], seats: 6 };
  expect(limitOf({ ...rota, row: 8, rest: 2 })).toBe(8);
  expect(limitOf({ ...rota, row: 8, rest: 1 })).toBe(0);
  expect(limitOf(rota)).toBe(0);
  expect(limitOf(undefined)).toBe(0);
});

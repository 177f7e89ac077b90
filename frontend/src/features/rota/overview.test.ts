import type { Match } from '$lib/api';
import { expect, test } from 'vitest';
import { missingInWords, recordsInWords, restsOf, standings, type Line, type Standing } from './overview';
import type { Stand } from './plan';

/** A match and what came of each scout's place in it. */
const line = (match: string, stands: Record<string, Stand>): Line => ({
  match: { match, play: 1 } as Match,
  start: undefined,
  seats: Object.entries(stands).map(([scout, stand]) => ({
    seat: { match, scout, team: '40101' },
    stand
  }))
});

const past = [
  line('Q1', { s01: 'arrived', s02: 'missing', s03: 'arrived' }),
  line('Q2', { s01: 'arrived', s02: 'arrived', s03: 'missing' }),
  line('Q3', { s01: 'arrived', s03: 'missing' }),
  line('Q4', { s01: 'on its way', s02: 'arrived', s03: 'on its way' })
];
const coming = [line('Q5', { s01: 'ahead', s03: 'ahead' }), line('Q6', { s02: 'ahead', s03: 'ahead' })];
const people = [{ scout: 's01' }, { scout: 's02' }, { scout: 's03' }, { scout: 's04', away: true }];

test('each scout has a place or rests, and what is missing in a row is told', () => {
  const all = standings(people, past, coming);
  expect(all.map((s) => [s.scout, s.seat?.match, s.again, s.came, s.sent, s.silent.join(' ')])).toEqual([
    ['s01', 'Q5', undefined, 3, 4, ''],
    ['s02', undefined, 'Q6', 2, 3, ''],
    ['s03', 'Q5', undefined, 1, 4, 'Q2 Q3'],
    ['s04', undefined, undefined, 0, 0, '']
  ]);
  expect(all.map((s) => s.away)).toEqual([false, false, false, true]);
  expect(all.map(recordsInWords)).toEqual(['Q4 on the way', '2 of 3 came', 'Q2 and Q3 missing', '']);
  expect(missingInWords(all, 3)).toBe('The latest records of s03 are missing.');
});

test('who was sent nowhere for long is not shown', () => {
  const old = Array.from({ length: 12 }, (_, i) => line(`Q${i + 2}`, { s01: 'arrived' }));
  const first = line('Q1', { s09: 'arrived' });
  expect(standings([], [first, ...old], []).map((s) => s.scout)).toEqual(['s01']);
  expect(standings([], [first, ...old.slice(1)], []).map((s) => s.scout)).toEqual(['s01', 's09']);
});

const standing = (s: Partial<Standing>): Standing => ({
  scout: 's01',
  away: false,
  sent: 5,
  came: 5,
  onWay: [],
  silent: [],
  ...s
});

test.each<[Partial<Standing>, string]>([
  [{}, 'all 5 came'],
  [{ silent: ['Q5'], came: 4 }, 'Q5 missing'],
  [{ silent: ['Q2', 'Q3', 'Q4', 'Q5'], came: 1 }, 'nothing of the last 4, since Q2']
])('records of %o', (s, words) => expect(recordsInWords(standing(s))).toBe(words));

test('who is missing is named, who is away is not', () => {
  const of = (scout: string, s: Partial<Standing> = {}) => standing({ scout, silent: ['Q5'], ...s });
  expect(missingInWords([of('s01')], 1)).toBe('The latest record of s01 is missing.');
  expect(missingInWords([of('s01'), of('s02')], 2)).toBe('The latest records of s01 and s02 are missing.');
  expect(
    missingInWords(
      [1, 2, 3, 4, 5].map((n) => of(`s0${n}`)),
      5
    )
  ).toContain('of 5 scouts are');
  expect(missingInWords([of('s01', { away: true })], 2)).toBe(
    'Nobody is missing; 2 earlier records did not come.'
  );
  expect(missingInWords([standing({})], 0)).toBe('No record is missing.');
});

test('rests are runs of matches in which others sit', () => {
  const seats = [
    { match: 'Q1', scout: 's01', team: '40101' },
    { match: 'Q2', scout: 's02', team: '40101' },
    { match: 'Q3', scout: 's02', team: '40101' },
    { match: 'Q5', scout: 's01', team: '40101' },
    { match: 'Q6', scout: 's02', team: '40101' },
    { match: 'Q6', scout: 's01' }
  ];
  // In Q4 nobody sits, so it is no rest and does not cut one.
  expect(restsOf(seats, 's01', ['Q1', 'Q2', 'Q3', 'Q4', 'Q5', 'Q6'])).toEqual(['Q2–Q3', 'Q6']);
  expect(restsOf(seats, 's02', ['Q1', 'Q2', 'Q3', 'Q4', 'Q5', 'Q6'])).toEqual(['Q1', 'Q5']);
});

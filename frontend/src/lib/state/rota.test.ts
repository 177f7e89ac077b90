import type { SeatBody } from '$lib/api';
import { expect, test } from 'vitest';
import { restsIn, seatOf, sittingIn, whyInWords, whyShort } from './rota';

const seats: SeatBody[] = [
  { match: 'Q1', scout: 's02', team: '40101' },
  { match: 'Q1', scout: 's01', team: '40105' },
  { match: 'Q2', scout: 's01' },
  { match: 'Q2', scout: 's02', team: '40102' }
];

test('a seat is of one scout in one match, and an empty one is none', () => {
  expect(seatOf(seats, 'Q1', 's01')?.team).toBe('40105');
  expect(seatOf(seats, 'Q2', 's01')).toBeUndefined();
  expect(seatOf(seats, 'Q1', undefined)).toBeUndefined();
  expect(sittingIn(seats, 'Q1').map((s) => s.scout)).toEqual(['s01', 's02']);
  expect(sittingIn(seats, 'Q2').map((s) => s.scout)).toEqual(['s02']);
});

test('a scout rests where others sit, and is free where nothing was planned', () => {
  expect(restsIn(seats, 'Q2', 's01')).toBe(true);
  expect(restsIn(seats, 'Q2', 's02')).toBe(false);
  expect(restsIn(seats, 'Q3', 's01')).toBe(false);
  expect(restsIn(seats, 'Q1', 's09')).toBe(false);
});

test('every reason has words, and other ones in short', () => {
  const kinds = [
    'with_us',
    'against_us',
    'unsure',
    'never_seen',
    'seldom_seen',
    'question',
    'second'
  ] as const;
  const all = kinds.flatMap((kind) => [whyInWords({ kind, match: 'Q9' }), whyShort({ kind, match: 'Q9' })]);
  expect(new Set(all).size).toBe(2 * kinds.length);
  expect(whyShort(undefined)).toBe('');
});

test.each<[SeatBody['reason'], string]>([
  [{ kind: 'against_us', match: 'Q31' }, 'It plays against us in Q31.'],
  [{ kind: 'with_us', match: 'Q31', seen: 2 }, 'It plays with us in Q31.'],
  [{ kind: 'seldom_seen', seen: 1 }, 'It was watched once so far.'],
  [{ kind: 'seldom_seen', seen: 3 }, 'It was watched 3 times so far.'],
  [{ kind: 'never_seen' }, 'Nobody has watched it yet.'],
  [undefined, '']
])('%o in words', (reason, words) => expect(whyInWords(reason)).toBe(words));

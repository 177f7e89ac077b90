import { describe, expect, it } from 'vitest';
import type { Match } from '$lib/api';
import { countdown, delayOf, expectedStart, lateInWords, lateSentence, startWords, type Sign } from './delay';

const start = Date.UTC(2031, 2, 6, 9);
const minute = 60_000;
/** Ten matches, eight minutes apart; an hour's break before Q7. */
const planned = (n: number) => start + (n - 1) * 8 * minute + (n > 6 ? 60 * minute : 0);
const schedule = Array.from({ length: 10 }, (_, i): Match => {
  const side = { teams: [] };
  return {
    match: `Q${i + 1}`,
    play: 1,
    starts_at: new Date(planned(i + 1)).toISOString(),
    red: side,
    blue: side
  };
});
const sign = (n: number, late: number, by: Sign['by'] = 'tap'): Sign => ({
  match: `Q${n}`,
  play: 1,
  at: planned(n) + late * minute + (by === 'result' ? 5 * minute : 0),
  by
});
const later = new Date(planned(10) + 120 * minute);
const late = (...signs: Sign[]) => {
  const ms = delayOf(schedule, signs, later);
  return ms === undefined ? undefined : ms / minute;
};

describe('delayOf', () => {
  it.each<[string, Sign[], number | undefined]>([
    ['nothing seen', [], undefined],
    ['one match', [sign(1, 7)], 7],
    ['early', [sign(1, -3), sign(2, -4), sign(3, -4)], -4],
    ['one match held up', [sign(1, 5), sign(2, 6), sign(3, 40), sign(4, 6), sign(5, 6)], 6],
    ['one tablet with a wrong clock', [sign(2, 5), sign(2, 5), sign(2, 90)], 5],
    ['a clock of another day', [sign(2, 5), { match: 'Q3', play: 1, at: start - 86_400_000, by: 'tap' }], 5],
    ['only results', [sign(1, 9, 'result'), sign(2, 10, 'result')], 9.5],
    ['a tap beats a result', [sign(1, 4), sign(1, 30, 'result')], 4],
    ['only the last five', [1, 2, 3, 4, 5, 6].map((n) => sign(n, n === 1 ? -20 : n)), 4],
    ['after a break the matches before it say nothing', [sign(5, 20), sign(6, 20), sign(7, 1)], 1],
    ['a match that nobody planned', [{ match: 'P1', play: 1, at: start, by: 'tap' }], undefined],
    ['a tap from the future', [{ ...sign(1, 0), at: later.getTime() + 3600_000 }], undefined]
  ])('%s', (_name, signs, want) => {
    expect(late(...signs)).toBe(want);
    expect(late(...signs.toReversed())).toBe(want);
  });
});

describe('expectedStart', () => {
  const q = (n: number) => schedule[n - 1] as Match;
  it('moves a match by what was learned', () => {
    const got = expectedStart(q(5), schedule, [sign(2, 6), sign(3, 6)], later);
    expect(got?.at.getTime()).toBe(planned(5) + 6 * minute);
  });
  it('trusts the plan again behind a break', () => {
    const got = expectedStart(q(8), schedule, [sign(5, 20), sign(6, 20)], later);
    expect(got).toEqual({ at: new Date(planned(8)), late: undefined });
  });
  it('has none without a planned start', () => {
    expect(expectedStart({ ...q(1), starts_at: '' }, schedule, [], later)).toBeUndefined();
  });
});

it.each<[string, number, Sign[], string]>([
  ['late', 5, [sign(3, 6), sign(4, 6)], 'Running 6 min late: Q5 at about 09:38.'],
  ['early', 5, [sign(4, -4)], 'Running 4 min early: Q5 at about 09:28.'],
  ['on time', 5, [sign(4, 1)], 'Running on time.'],
  ['nothing seen', 5, [], ''],
  ['behind a break', 8, [sign(6, 20)], '']
])('tells of a match to come: %s', (_name, n, signs, want) => {
  const hhmm = (at: Date) => at.toISOString().slice(11, 16);
  expect(lateSentence(schedule[n - 1], schedule, signs, later, hhmm)).toBe(want);
});

it('says it in words', () => {
  expect([undefined, 0, 119_000, 12.4 * minute, -4 * minute].map(lateInWords)).toEqual([
    '',
    'on time',
    '2 min late',
    '12 min late',
    '4 min early'
  ]);
  const now = new Date(start);
  const until = (s: number) => countdown(new Date(start + s * 1000), now);
  expect([30, 240, 3900, 90_000, -5, -3600].map(until)).toEqual([
    'in 30 s',
    'in 4 min',
    'in 1 h 5 min',
    '',
    'any moment',
    ''
  ]);
});

it('says when a match starts: the day only when it is another one', () => {
  const at = new Date('2031-03-06T10:46:00Z');
  const words = (now: string, late?: number) => startWords({ at, late }, new Date(now), 'UTC');
  expect(words('2031-03-06T10:37:00Z', 6 * minute)).toBe('about 10:46, in 9 min; the event runs 6 min late');
  expect(words('2031-03-06T10:37:00Z')).toBe('about 10:46, in 9 min');
  expect(words('2031-03-05T09:00:00Z')).toBe('Thu 6 March, about 10:46');
  expect(words('2031-03-06T12:00:00Z')).toBe('about 10:46');
});

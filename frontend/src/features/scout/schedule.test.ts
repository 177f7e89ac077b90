import { describe, expect, it } from 'vitest';
import type { Match } from '$lib/api';
import { followingMatch, nextMatch, nextSent } from './schedule';

const at = (minutes: number) => new Date(Date.UTC(2031, 2, 6, 9, minutes));

/** Q1 … Q9, one every eight minutes from nine o'clock. */
const matches = Array.from({ length: 9 }, (_, i) => ({
  match: `Q${i + 1}`,
  play: 1,
  starts_at: at(8 * i).toISOString(),
  red: { teams: [] },
  blue: { teams: [] }
})) as unknown as Match[];
const unplanned = matches.map((m) => ({ ...m, starts_at: '0001-01-01T00:00:00Z' }));

describe('nextMatch', () => {
  it.each([
    ['before the first start', matches, [], at(-30), 'Q1'],
    ['the one after the last record, however late the event runs', matches, ['Q1', 'Q2'], at(55), 'Q3'],
    ['what is about to be played, for whoever comes in the middle', matches, [], at(29), 'Q4'],
    ['the same after a long break', matches, ['Q1'], at(80), 'Q6'],
    ['the next in order when all starts are long ago', matches, ['Q1'], at(9000), 'Q2'],
    ['the next in order when no start is known', unplanned, ['Q1'], at(80), 'Q2'],
    ['the last when there is nothing after it', matches, ['Q9'], at(80), 'Q9']
  ])('offers %s', (_, schedule, recorded, now, want) => {
    expect(nextMatch(schedule, new Set(recorded), now)?.match).toBe(want);
  });
  it('offers none of none', () => {
    expect(nextMatch([], new Set(), at(0))).toBeUndefined();
  });
});

it.each<[string, string[], Date, string | undefined]>([
  ['goes where the rota sends next', [], at(-30), 'Q3'],
  ['rests where it sends nowhere', ['Q3'], at(30), 'Q5'],
  ['leaves out what was slept through', [], at(35), 'Q5'],
  ['is free when all is recorded', ['Q3', 'Q5'], at(60), undefined]
])('%s', (_, recorded, now, want) => {
  const seats = [
    { match: 'Q3', scout: 's01', team: '40101' },
    { match: 'Q4', scout: 's02', team: '40102' },
    { match: 'Q4', scout: 's01' },
    { match: 'Q5', scout: 's01', team: '40103' }
  ];
  expect(nextSent(matches, seats, 's01', new Set(recorded), now)?.match).toBe(want);
  expect(nextSent(matches, seats, 's09', new Set(recorded), now)).toBeUndefined();
});

it.each([
  ['Q7', 'Q8'],
  ['Q99', 'Q100'],
  ['W9', 'W10']
])('goes on from %s with %s where there is no schedule', (match, want) => {
  expect(followingMatch(match)).toBe(want);
});

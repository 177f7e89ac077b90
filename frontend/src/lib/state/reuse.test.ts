import { expect, test } from 'vitest';
import type { Match, ResultBody } from '$lib/api';
import { withResults } from './matches';
import { reuser } from './reuse';

test('what is made of the same parts stays the same object, of others it is made anew', () => {
  const reuse = reuser();
  const [x, y] = [{}, {}];
  const first = reuse('a', [x, 1], () => ({}));
  expect(reuse('a', [x, 1], () => ({}))).toBe(first);
  expect(reuse('b', [x, 1], () => ({}))).not.toBe(first);
  expect(reuse('a', [y, 1], () => ({}))).not.toBe(first);
  expect(reuse('a', [y, 1, undefined], () => 'longer')).toBe('longer');
});

test('a result makes its own match another and no other', () => {
  const plan = (match: string): Match => ({
    match,
    play: 1,
    starts_at: '',
    red: { teams: ['1'] },
    blue: { teams: ['2'] }
  });
  const result = (match: string, play: number, score: number) =>
    ({ match, play, alliance: 'red', score }) as ResultBody;
  const schedule = [plan('Q1'), plan('Q2')];
  const reuse = reuser();
  const before = withResults(schedule, [result('Q1', 1, 5), result('Q1', 2, 7)], reuse);
  const results = [result('Q1', 1, 5), result('Q1', 2, 7), result('Q2', 1, 9)];
  expect(withResults(schedule, results).map((m) => m.red.result?.score)).toEqual([5, 7, 9]);
  // Other bodies: made anew. The same ones and one more: only that one.
  const known = withResults(schedule, results.slice(0, 2), reuse);
  expect(known[0]).not.toBe(before[0]);
  const after = withResults(schedule, results, reuse);
  expect(after.map((m, i) => m === known[i])).toEqual([true, true, false]);
  expect(after[2]?.red.result?.score).toBe(9);
  // Another line-up: the replay has it, too.
  const others = schedule.map((m) => ({ ...m, red: { teams: ['3'] } }));
  expect(withResults(others, results, reuse).map((m) => m.red.teams)).toEqual([['3'], ['3'], ['3']]);
});

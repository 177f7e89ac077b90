import type { Match, ResultBody } from '$lib/api';
import { describe, expect, it } from 'vitest';
import { withResults } from './matches';

const planned = (match: string): Match => ({
  match,
  play: 1,
  starts_at: '2031-03-06T14:00:00Z',
  red: { teams: ['1', '2'], surrogates: ['2'] },
  blue: { teams: ['3', '4'] }
});
const result = (
  match: string,
  play: number,
  alliance: 'red' | 'blue',
  score: number,
  more = {}
): ResultBody => ({
  match,
  play,
  alliance,
  score,
  ...more
});

describe('withResults', () => {
  it('shows what was entered here before the server has it', () => {
    const [m] = withResults([planned('Q1')], [result('Q1', 1, 'red', 40, { absent: ['2'] })]);
    expect(m?.red.result?.score).toBe(40);
    expect(m?.red.absent).toEqual(['2']);
    expect(m?.red.surrogates).toEqual(['2']);
    expect(m?.blue.result).toBeUndefined();
  });

  it('takes a discarded result off again', () => {
    const stored = { ...planned('Q1'), red: { teams: ['1', '2'], absent: ['1'], result: { score: 40 } } };
    const [m] = withResults([stored], [result('Q1', 1, 'red', 40, { discarded: true })]);
    expect(m?.red).toEqual({ teams: ['1', '2'], surrogates: undefined });
  });

  it('adds a replay that only its result tells of, with the same robots', () => {
    const out = withResults(
      [planned('Q2'), planned('Q1')],
      [result('Q1', 2, 'red', 9), result('Q1', 2, 'blue', 7)]
    );
    expect(out.map((m) => [m.match, m.play, m.red.result?.score, m.blue.result?.score])).toEqual([
      ['Q1', 1, undefined, undefined],
      ['Q1', 2, 9, 7],
      ['Q2', 1, undefined, undefined]
    ]);
    expect(out[1]?.red.teams).toEqual(['1', '2']);
  });

  it('makes no match of a result that belongs to none, or was taken back', () => {
    const out = withResults(
      [planned('Q1')],
      [result('Q9', 1, 'red', 9), result('Q1', 2, 'red', 9, { discarded: true })]
    );
    expect(out.map((m) => [m.match, m.play])).toEqual([['Q1', 1]]);
  });
});

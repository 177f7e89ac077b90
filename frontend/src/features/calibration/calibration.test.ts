import type { Bin, LeadTime, Trust } from '$lib/api';
import { describe, expect, test } from 'vitest';
import { coverageRows, outside, pastRows, reliabilityWords, trustReason, trustSentence } from './calibration';

const gap = '\u00a0';
const trust = (part: Partial<Trust>): Trust => ({
  level: 'good',
  matches: 60,
  correct: 0.75,
  skill: 0.4,
  least: 0.2,
  coverage80: 0.79,
  least_squares: 0.3,
  ...part
});

describe('how far to trust the forecast', () => {
  test.each<[Partial<Trust>, RegExp]>([
    [{ level: 'too_little', matches: 0 }, /^Too little data: no played match/],
    [{ level: 'too_little', matches: 1 }, /^Too little data: 1 played match was forecast/],
    [{ level: 'too_little', matches: 12 }, /12 played matches were forecast so far, and it takes 20/],
    [{ level: 'none' }, /^Do not lean on the forecast yet: 45 of 60/],
    [{ level: 'some' }, /^Trust the forecast to a degree: 45 of 60/],
    [{ level: 'good' }, /^The forecast can be trusted so far: 45 of 60/]
  ])('%o', (part, want) => expect(trustSentence(trust(part))).toMatch(want));

  test('the reason stands beside least squares', () => {
    expect(trustReason(trust({}))).toContain(`leaves out 40${gap}% of the error`);
    expect(trustReason(trust({}))).toContain('more than plain least squares');
    expect(trustReason(trust({ least_squares: 0.5 }))).toContain('less than plain least squares');
    expect(trustReason(trust({ least_squares: 0.41 }))).toContain('about as much');
    expect(trustReason(trust({ skill: -0.1 }))).toContain('errs no less than a coin');
    expect(trustReason(trust({ matches: 0 }))).toBe('');
  });
});

const bin = (won: number, low = 0.5, high = 0.9): Bin => ({
  from: 0.7,
  to: 0.8,
  count: 10,
  chance: 0.74,
  won,
  low,
  high
});

test('a group outside of its bar is named, one on the edge is not', () => {
  expect(outside([bin(0.9), bin(0.91), bin(0.4)])).toHaveLength(2);
  expect(reliabilityWords([bin(0.9)])).toMatch(/^Within what luck allows/);
  expect(reliabilityWords([bin(0.4), bin(0.6)])).toBe(
    `Outside of what luck usually allows in 1 of 2 groups: said 74${gap}%, came 40${gap}% of 10 times.`
  );
  expect(reliabilityWords([])).toBe('No forecast yet.');
});

test('coverage is marked where it is off by more than two standard errors', () => {
  const lead = {
    estimator: 'fused',
    ahead: 0,
    bins: [],
    sharpness: { sd: 1, width80: 3, decided: 0.4 },
    summary: { forecast: 50, coverage50: 0.61, coverage80: 0.79, coverage95: 0.94 }
  } as unknown as LeadTime;
  // 100 scores: a standard error of 0.05 at one half.
  expect(coverageRows(lead).map((r) => r.off)).toEqual([true, false, false]);
});

test('past forecasts, the last first, and who was right', () => {
  const f = (match: string, red: number, r: number, b: number) => ({
    match,
    red: { mean: 0, sd: 1, p10: 0, p90: 0 },
    blue: { mean: 0, sd: 1, p10: 0, p90: 0 },
    chance: { red, blue: 1 - red, tie: 0 },
    red_score: r,
    blue_score: b
  });
  const rows = pastRows([
    f('Q1', 0.7, 50, 40),
    f('Q2', 0.7, 40, 50),
    f('Q3', 0.2, 40, 50),
    f('Q4', 0.7, 5, 5)
  ]);
  expect(rows.map((r) => [r.match, r.right])).toEqual([
    ['Q4', undefined],
    ['Q3', true],
    ['Q2', false],
    ['Q1', true]
  ]);
  expect(rows[1]).toMatchObject({ said: `blue 80${gap}%`, came: '40 to 50' });
});

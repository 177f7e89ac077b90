import type { Distribution, Forecast } from '$lib/api';
import { scaleOf } from '$lib/figures';
import type { Game } from '$lib/game/types';
import { describe, expect, test } from 'vitest';
import {
  afterwards,
  dotsOf,
  dotsWords,
  fell,
  moved,
  nothingAssumed,
  playing,
  pointRows,
  quantileAt,
  stackHeight,
  whatIfOf,
  type Assumed
} from './detail';

const gap = '\u00a0';
const spread = (mean: number) => ({ mean, sd: 10, p10: mean - 12.8, p90: mean + 12.8 });
const forecast = (red: number): Forecast => ({
  match: 'Q7',
  red: spread(60),
  blue: spread(50),
  chance: { red, blue: 0.98 - red, tie: 0.02 },
  ranking_points: { red: { laden: 0.4 }, blue: { laden: 0.1 } }
});

test('dots stack where they fall into one column, none is lost', () => {
  const dots = dotsOf([1, 1.2, 1.4, 5, 10], scaleOf(0, 10), 10);
  expect(dots.map((d) => d.above)).toEqual([0, 1, 2, 0, 0]);
  expect(dots.at(-1)?.x).toBeCloseTo(0.95);
  expect(stackHeight(dots)).toBe(3);
});

test('quantiles stand at (i + ½)/n, and between them lines', () => {
  const q = Array.from({ length: 41 }, (_, i) => i);
  expect(quantileAt(q, 0.5)).toBeCloseTo(20);
  expect(quantileAt(q, 0)).toBe(0);
  expect(quantileAt(q, 1)).toBe(40);
  expect(quantileAt(q, 1 / 41)).toBeCloseTo(0.5);
  expect(quantileAt([], 0.5)).toBeUndefined();
  const d: Distribution = { quantiles: q, capped: 0 };
  expect(dotsWords('red', d)).toBe(
    'Red: half of the scores between 10 and 30, nineteen in twenty between 1 and 39, the middle one 20.'
  );
});

test('ranking points with what became of them, in the order of the game file', () => {
  const game = {
    ranking_points: [
      { id: 'win', points: 2, when: 'win' },
      { id: 'laden', name: 'Full load', points: 1, when: { component: 'barrels', at_least: 18 } }
    ]
  } as unknown as Game;
  const actual = { red_score: 1, blue_score: 2, ranking_points: { red: { laden: true }, blue: {} } };
  expect(pointRows(game, forecast(0.6), actual)).toEqual([
    { id: 'laden', name: 'Full load', red: 0.4, blue: 0.1, redGot: true, blueGot: undefined }
  ]);
  expect(pointRows(game, undefined)).toEqual([]);
});

test('afterwards: who won against what was said, and where the scores fell', () => {
  const actual = { red_score: 70, blue_score: 50, ranking_points: {} };
  expect(afterwards(forecast(0.72), actual)).toBe(`Red won, which the forecast gave 72${gap}%.`);
  expect(afterwards(forecast(0.2), actual)).toBe(`Red won, which the forecast gave 20${gap}%, a surprise.`);
  expect(afterwards(forecast(0.2), { ...actual, blue_score: 70 })).toBe(
    `A tie, which the forecast gave 2${gap}%.`
  );
  expect(fell(spread(60), 70)).toBe('as expected');
  // The standard normal distribution function at 2 is 0.977 (any table of it).
  expect(fell(spread(60), 80)).toBe(`higher than 98${gap}% of what was expected`);
  expect(fell(spread(60), 40)).toBe(`lower than 98${gap}% of what was expected`);
});

describe('what if', () => {
  const places = ['1', '2', '3', '4', '5', '6'];
  const a = (part: object) => ({ ...nothingAssumed, ...part });

  test('nothing assumed asks nothing', () => {
    expect(whatIfOf('Q7', places, {})).toBeUndefined();
    expect(whatIfOf('Q7', places, { 1: a({}) })).toBeUndefined();
  });

  test('two that both play change places, said from either or both ends once', () => {
    const either: Record<string, Assumed>[] = [
      { 1: a({ instead: '4' }) },
      { 1: a({ instead: '4' }), 4: a({ instead: '1' }) }
    ];
    for (const all of either) {
      expect(whatIfOf('Q7', places, all)).toEqual({ match: 'Q7', replace: [{ out: '1', in: '4' }] });
      expect([...playing(places, all).now.values()]).toEqual(['4', '2', '3', '1', '5', '6']);
    }
  });

  test('who stops or defends is who stands in the place then', () => {
    expect(
      whatIfOf('Q7', places, {
        1: a({ instead: '9', stops: true }),
        2: a({ against: '4', loss: 0.3, keeps: 0.4 }),
        4: a({ instead: '8' })
      })
    ).toEqual({
      match: 'Q7',
      replace: [
        { out: '1', in: '9' },
        { out: '4', in: '8' }
      ],
      stop: ['9'],
      defend: [{ team: '2', against: '8', loss: 0.3, keeps: 0.4 }]
    });
  });

  test('is told before and after', () => {
    expect(moved(forecast(0.62), forecast(0.48), 'red')).toBe(`62${gap}% → 48${gap}%, 14 less in a hundred`);
    expect(moved(forecast(0.62), forecast(0.62), 'red')).toContain('no change');
  });
});

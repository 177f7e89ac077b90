import { describe, expect, it } from 'vitest';
import { cardsOf, layOut, needOf } from './cards';
import { gameFile } from './fixtures';
import type { Action, Game } from './types';

describe('cardsOf', () => {
  it('puts start positions on the first page and what has no period on each', () => {
    const game = gameFile('stonefield.json');
    expect(cardsOf(game, 'dawn').map((c) => c.id)).toEqual(['spot', 'gate', 'dawn_stone', 'wave']);
    expect(cardsOf(game, 'day').map((c) => c.id)).toEqual([
      'stone',
      'turf',
      'seed',
      'pass',
      'lantern',
      'bells',
      'shelter',
      'wave'
    ]);
  });
});

describe('what belongs to the whole alliance', () => {
  it('is asked of one scout only', () => {
    const ids = cardsOf(gameFile('stonefield.json'), 'day', false).map((c) => c.id);
    expect(ids).toContain('shelter');
    expect(ids).not.toContain('bells');
    expect(ids).not.toContain('lantern');
  });
});

/** Fourteen actions of every kind on one page. */
function crowded(): Game {
  const kinds: Partial<Action>[] = [
    { kind: 'count', misses: true },
    { kind: 'count' },
    { kind: 'flag' },
    { kind: 'volume', steps: [1, 5, 20] },
    { kind: 'choice', tried: true, options: ['a', 'b', 'c'].map((id) => ({ id })) }
  ];
  return {
    ...gameFile('slackwater.json'),
    actions: Array.from(
      { length: 14 },
      (_, i) => ({ id: `a${i}`, period: 'driver', ...kinds[i % 5] }) as Action
    )
  };
}

describe('layOut', () => {
  // The room that is left for the cards on a tablet, both ways up, with toggle, fouls and strip around them.
  it.each([
    ['landscape', 914, 570],
    ['portrait', 788, 740]
  ])('fits fourteen actions on a tablet in %s', (_, width, height) => {
    const needs = cardsOf(crowded(), 'driver').map(needOf);
    const layout = layOut(needs, width, height, 12);
    expect(layout.fits).toBe(true);
    const cell = (width - 12 * (layout.columns - 1)) / layout.columns;
    const room = (height - 12 * (layout.rows - 1)) / layout.rows;
    needs.forEach((need, i) => {
      expect(layout.spans[i]! * (cell + 12) - 12).toBeGreaterThanOrEqual(need.width - 1);
      expect(room).toBeGreaterThanOrEqual(need.height);
    });
    expect(layout.spans.reduce((a, b) => a + b)).toBe(layout.columns * layout.rows);
  });

  it('takes few columns while there is room: wide cards are hit without looking', () => {
    const needs = cardsOf(gameFile('slackwater.json'), 'driver').map(needOf);
    expect(layOut(needs, 914, 570, 12).columns).toBeLessThanOrEqual(2);
  });

  it('says when nothing can fit, so that the page scrolls', () => {
    const needs = cardsOf(crowded(), 'driver').map(needOf);
    expect(layOut(needs, 374, 420, 8).fits).toBe(false);
  });
});

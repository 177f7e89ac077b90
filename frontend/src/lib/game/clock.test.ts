import { describe, expect, it } from 'vitest';
import { clockText, matchLength, nowAt, pageOf } from './clock';
import { gameFile } from './fixtures';

// Slackwater: 15 s autonomous, 3 s pause, 135 s driver-controlled, its last 20 s endgame.
const game = gameFile('slackwater.json');

describe('nowAt', () => {
  it.each([
    [0, 'auto', 'auto', '0:15', false],
    [14_900, 'auto', 'auto', '0:01', false],
    [15_500, undefined, 'driver', '0:03', false], // the pause already shows the next page
    [18_000, 'driver', 'driver', '2:15', false],
    [133_000, 'endgame', 'driver', '0:20', false],
    [153_000, undefined, 'driver', '0:00', true]
  ] as const)('at %d ms: period %s, page %s, %s left', (ms, period, page, left, over) => {
    const now = nowAt(game, ms);
    expect([now.period?.id, now.page, clockText(now.left), now.over]).toEqual([period, page, left, over]);
  });

  it('knows how long the match is and where a period stands', () => {
    expect(matchLength(game)).toBe(153_000);
    expect(pageOf(game, 'endgame')).toBe('driver');
    expect(pageOf(game, 'auto')).toBe('auto');
  });
});

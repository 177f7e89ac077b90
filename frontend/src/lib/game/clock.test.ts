import { describe, expect, it } from 'vitest';
import { clockText, matchLength, nowAt, pageOf, shortened, spans } from './clock';
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

describe.each(['slackwater.json', 'millrace.json', 'stonefield.json', 'saltern.json'])(
  '%s, shortened',
  (name) => {
    const real = gameFile(name);
    it.each([40, 120])('to %i s takes that long, and leaves each part long enough to watch', (seconds) => {
      const short = shortened(real, seconds);
      expect(matchLength(short) / 1000).toBeCloseTo(seconds, 6);
      for (const [i, p] of short.periods.entries()) {
        expect(p.seconds, p.id).toBeGreaterThanOrEqual(Math.min(8, real.periods[i]?.seconds ?? 0));
        expect(p.seconds, p.id).toBeLessThanOrEqual(real.periods[i]?.seconds ?? 0);
      }
      const at = spans(short);
      for (const s of at.filter((o) => o.period.within)) {
        const around = at.find((o) => o.period.id === s.period.within);
        expect((s.to - s.from) * 2).toBeLessThanOrEqual((around?.to ?? 0) - (around?.from ?? 0) + 1e-6);
      }
    });
    it('to more than it takes stays as it is', () => {
      expect(shortened(real, 600)).toBe(real);
    });
  }
);

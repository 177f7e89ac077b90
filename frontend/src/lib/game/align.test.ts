import { describe, expect, it } from 'vitest';
import { align, momentsOf, moved, type Moment } from './align';
import { gameFile } from './fixtures';
import type { Observed } from './observed';

const stonefield = gameFile('stonefield.json');
const of = (id: string, ...at: number[]): Moment[] => at.map((ms) => ({ at: ms, id }));
const later = (all: Moment[], ms: number) => all.map((m) => ({ ...m, at: m.at + ms }));

/** Stones at no steady beat, a foul between: what one scout tapped. */
const seen = [...of('stone', 30_000, 41_500, 49_000, 66_200, 90_100), ...of('trespass', 70_000)];

describe('two clocks', () => {
  it.each([
    ['the second began 4.2 s late', later(seen, -4_200), 4_200, 6],
    ['the second began 2 s early', later(seen, 2_000), -2_000, 6],
    ['the second took over by a clock that was a minute off', later(seen, -61_300), 61_300, 6],
    ['both began at once', seen, 0, 6],
    [
      'hands are not equally quick, and one tap stands alone',
      [...of('stone', 26_300, 37_000, 45_300, 57_000, 62_000), ...of('trespass', 65_800)],
      4_200,
      5
    ]
  ])('%s', (_, second, shift, pairs) => {
    expect(align(seen, second)).toEqual({ shift, pairs, open: false });
    expect(align(second, seen)).toEqual({ shift: shift === 0 ? 0 : -shift, pairs, open: false });
  });

  it('takes taps of one action only for one moment', () => {
    expect(align(of('stone', 1_000, 9_000), of('turf', 1_000, 9_000))).toBeUndefined();
    expect(align(of('stone', 1_000), [])).toBeUndefined();
  });

  it('uses each tap once', () => {
    expect(align(of('stone', 10_000, 10_400, 10_800), of('stone', 10_000))).toMatchObject({ pairs: 1 });
  });

  it('says when a steady beat leaves it open which taps belong together', () => {
    const beat = of('stone', 30_000, 40_000, 50_000, 60_000);
    // The first or the last was not seen.
    expect(align(beat, of('stone', 35_000, 45_000, 55_000))).toMatchObject({ pairs: 3, open: true });
    // One more action tells them apart.
    const told = [...of('stone', 35_000, 45_000, 55_000), ...of('trespass', 52_000)];
    expect(align([...beat, ...of('trespass', 57_000)], told)).toEqual({
      shift: 5_000,
      pairs: 4,
      open: false
    });
  });

  // Against trying every shift by the tenth of a second, as it could be done by hand.
  it.each(Array.from({ length: 20 }, (_, i) => i + 1))(
    'finds no fewer pairs than trying all, draw %i',
    (n) => {
      let state = n * 7919;
      const random = () => (state = (state * 48_271) % 2_147_483_647) / 2_147_483_647;
      const draw = () =>
        ['stone', 'turf'].flatMap((id) =>
          of(id, ...Array.from({ length: 6 }, () => Math.round(random() * 1_400) * 100))
        );
      const [a, b] = [draw(), draw()];
      const sorted = (all: Moment[]) => all.toSorted((x, y) => x.at - y.at);
      let most = 0;
      for (let shift = -140_000; shift <= 140_000; shift += 100) {
        const free = sorted(later(b, shift));
        let met = 0;
        for (const m of sorted(a)) {
          const i = free.findIndex((o) => o.id === m.id && Math.abs(o.at - m.at) <= 1_500);
          if (i >= 0) {
            met++;
            free.splice(i, 1);
          }
        }
        most = Math.max(most, met);
      }
      const found = align(sorted(a), sorted(b))!;
      // A shift between two differences may join one more; a difference is what people can point at.
      expect(found.pairs).toBeGreaterThanOrEqual(most - 1);
      expect(found.pairs).toBeLessThanOrEqual(most);
    }
  );
});

describe('a record', () => {
  const record: Observed = {
    match: 'Q1',
    team: '40117',
    scout: 'ann',
    counts: { stone: { made: 1 }, bells: { made: 1 } },
    answers: { stopped: 4 },
    from: 500,
    taps: [
      [0, 'spot', 1, 2, 3],
      [1_000, 'stone', 1, 4, 5],
      [8_000, 'stone', 1],
      [9_000, 'stone', -1],
      [60_000, 'stopped', 1],
      [64_000, 'stopped', -1],
      [120_000, 'bells', 1]
    ]
  };

  it('gives moments that stand, of the robot or of its alliance', () => {
    expect(momentsOf(stonefield, record, false)).toEqual([
      { at: 1_000, id: 'stone' },
      { at: 120_000, id: 'bells' }
    ]);
    expect(momentsOf(stonefield, record, true)).toEqual([{ at: 120_000, id: 'bells' }]);
  });

  it('is moved with its times only, and never before the start', () => {
    const before = structuredClone(record);
    expect(moved(stonefield, record, 2_500)).toEqual({
      ...record,
      from: 3_000,
      taps: [
        [0, 'spot', 1, 2, 3],
        [3_500, 'stone', 1, 4, 5],
        [10_500, 'stone', 1],
        [11_500, 'stone', -1],
        [62_500, 'stopped', 1],
        [66_500, 'stopped', -1],
        [122_500, 'bells', 1]
      ]
    });
    expect(moved(stonefield, record, -5_000).taps?.[1]).toEqual([0, 'stone', 1, 4, 5]);
    expect(record).toEqual(before);
  });
});

import { describe, expect, it } from 'vitest';
import type { Match, Observation } from '$lib/api';
import { gameFile } from '$lib/game/fixtures';
import { pairings, type Kept } from './clocks';

const game = gameFile('stonefield.json');
const match: Match = {
  match: 'Q1',
  play: 1,
  starts_at: '',
  red: { teams: ['40117', '40123', '40102'] },
  blue: { teams: ['40131', '40109', '40140'] }
};
const STONES = [30_000, 41_500, 49_000, 66_200];

/** A record of what was tapped at these times, all of one action. */
function tapped(
  scout: string,
  team: string,
  at: number[],
  id = 'stone',
  more: Partial<Observation> = {}
): Kept {
  const body = { match: 'Q1', team, scout, taps: at.map((ms) => [ms, id, 1]), ...more } as Observation;
  return { record_id: `${scout}-${team}`, body };
}
const before = (at: number[], ms: number) => at.map((a) => a - ms);

describe('clocks of two tablets', () => {
  it('are set by the one that began first, or the other way round', () => {
    const ann = tapped('ann', '40117', STONES);
    const bo = tapped('bo', '40117', before(STONES, 4_230));
    const [pair] = pairings(game, match, [ann, bo]);
    expect(pair?.words).toBe('bo’s clock began 4.2 s after ann’s, by 4 moments of 40117.');
    expect(pair?.moves.map(({ record, ms, words }) => [record.body.scout, ms, words])).toEqual([
      ['bo', 4_230, 'Move bo’s times 4.2 s later'],
      ['ann', -4_230, 'Move ann’s times 4.2 s earlier']
    ]);
    expect(pair?.moves[0]?.reason).toBe(
      'times moved 4.2 s later, to ann’s clock, by 4 moments that both saw'
    );
    // The order of the records does not matter.
    expect(pairings(game, match, [bo, ann])[0]?.moves.map((m) => m.words)).toEqual(
      pair?.moves.map((m) => m.words)
    );
  });

  it.each([
    [
      'two moments are not enough',
      before(STONES, 5_000).slice(0, 2),
      'ann and bo share 2 moments of 40117. It takes 3 to set one clock by the other.'
    ],
    [
      'nothing in common',
      [],
      'ann and bo share 0 moments of 40117. It takes 3 to set one clock by the other.'
    ],
    ['they agree', before(STONES, 200), 'ann and bo: their clocks agree within 0.3 s, by 4 moments of 40117.']
  ])('%s', (_, at, words) => {
    const bo = tapped('bo', '40117', at, 'stone', at.length > 0 ? {} : { taps: [[5_000, 'turf', 1]] });
    expect(pairings(game, match, [tapped('ann', '40117', STONES), bo])).toMatchObject([{ words, moves: [] }]);
  });

  it('are told apart when a steady beat fits twice', () => {
    const [pair] = pairings(game, match, [
      tapped('ann', '40117', [30_000, 40_000, 50_000, 60_000]),
      tapped('bo', '40117', [35_000, 45_000, 55_000])
    ]);
    expect(pair?.moves).toEqual([]);
    expect(pair?.words).toContain('the taps do not decide');
  });

  it('may be compared by what the alliance does, and not across the field', () => {
    const bells = [120_000, 127_000, 136_500];
    const words = (team: string) =>
      pairings(game, match, [
        tapped('ann', '40117', bells, 'bells'),
        tapped('bo', team, before(bells, 2_000), 'bells')
      ]).map((p) => p.words);
    expect(words('40123')).toEqual(['bo’s clock began 2.0 s after ann’s, by 3 moments of the red alliance.']);
    expect(words('40131')).toEqual([]);
    // What each robot does by itself is no moment of both.
    expect(pairings(game, match, [tapped('ann', '40117', STONES), tapped('bo', '40123', STONES)])).toEqual(
      []
    );
  });

  it.each([
    ['left out', { discarded: true }],
    ['of another play', { play: 2 }],
    ['without times', { taps: [] }],
    ['of a robot that did not show', { absent: true }]
  ] as const)('do not concern a record %s', (_, more) => {
    const other = tapped('bo', '40117', STONES, 'stone', more as Partial<Observation>);
    expect(pairings(game, match, [tapped('ann', '40117', STONES), other])).toEqual([]);
  });

  it('of two parts of one watching have nothing to be set by', () => {
    const ann = tapped('ann', '40117', STONES, 'stone', { to: 70_000 });
    const bo = (from: number) => tapped('bo', '40117', [71_000, 90_000], 'stone', { from });
    expect(pairings(game, match, [ann, bo(70_000)])).toEqual([]);
    expect(pairings(game, match, [ann, bo(60_000)])).toHaveLength(1);
  });
});

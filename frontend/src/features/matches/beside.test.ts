import type { Match, Observation } from '$lib/api';
import { gameFile } from '$lib/game/fixtures';
import { expect, it } from 'vitest';
import { beside, unwatched } from './beside';

const game = gameFile('millrace.json');
const all = (team: string, sack: number, more: Partial<Observation> = {}): Observation => ({
  match: 'Q1',
  team,
  scout: 's1',
  counts: {
    sluice: { made: 1 },
    sack: { made: sack, missed: 0 },
    sack_high: { made: 0 },
    spill: { made: 0 }
  },
  choices: { ramp: { option: 'off' } },
  ...more
});
const match: Match = {
  match: 'Q1',
  play: 1,
  starts_at: '',
  red: { teams: ['1', '2'], result: { score: 44, from_fouls: 5, components: { water: 16, loads: 9 } } },
  blue: { teams: ['3', '4'], result: { score: 20 } }
};

it('sums of records stand beside the official figures, for a side that was wholly watched', () => {
  // By hand: two sluices of 8, 5 + 2 sacks of 3: 37 without fouls, 7 sacks.
  const rows = beside(game, match, [all('1', 5), all('2', 2), all('3', 1)]);
  expect(rows).toEqual([
    {
      name: 'Score without fouls',
      seen: { red: 37, blue: undefined },
      official: { red: 39, blue: 20 }
    },
    { name: 'Water', seen: { red: 16, blue: undefined }, official: { red: 16, blue: undefined } },
    { name: 'Sacks', seen: { red: 7, blue: undefined }, official: { red: 9, blue: undefined } }
  ]);
});
it('what was not watched, discarded or seen in another play is no sum', () => {
  const part = all('2', 2, { counts: { sack: { made: 2 } } });
  expect(unwatched(game, match, 'red', [all('1', 5), part])).toEqual(['2']);
  expect(beside(game, match, [all('1', 5), part])).toEqual([]);
  expect(beside(game, match, [all('1', 5), all('2', 2, { discarded: true })])).toEqual([]);
  expect(beside(game, match, [all('1', 5), all('2', 2, { play: 2 })])).toEqual([]);
  expect(
    beside(game, match, [all('1', 5), { match: 'Q1', team: '2', scout: 's', absent: true }])[0]?.seen.red
  ).toBe(23);
});

import type { Brief } from '$lib/api';
import { expect, test } from 'vitest';
import { lineUpWords } from './words';

const brief = (more: Partial<Brief>) =>
  ({ plan: { jobs: [{ team: '11' }, { team: '12' }, { team: '14' }] }, ...more }) as Brief;
const lineup = (teams: string[], gain: number) => ({ teams, win: { gain, se: 0.005 } });

test('the sheet always says who of us plays', () => {
  expect(lineUpWords(brief({}))).toBe('All of us play: 11, 12 and 14.');
  const of = (gain: number) =>
    lineUpWords(
      brief({
        lineups: [lineup(['11', '12', '14'], 0), lineup(['11', '12', '13'], gain)] as Brief['lineups'],
        out: ['13']
      } as Partial<Brief>)
    );
  expect(of(-0.021)).toBe(
    'Play 11, 12 and 14; 13 sits out. With 13 instead of 14 the chance to win is 2.1 in a hundred lower.'
  );
  expect(of(-0.004)).toMatch(/is about the same: choose by what you see\.$/);
});

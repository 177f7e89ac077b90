import type { Match } from '$lib/api';
import { expect, it } from 'vitest';
import { blank, pagesFor, placesOf } from './seats';

const match = (n: number, play = 1): Match => ({
  match: `Q${n}`,
  play,
  starts_at: '',
  red: { teams: [`${n}1`, `${n}2`] },
  blue: { teams: n === 2 ? [`${n}3`] : [`${n}3`, `${n}4`] }
});
const matches = [1, 2, 3, 4, 5, 6].map((n) => match(n));

it('one place from a match on, four robots a page', () => {
  const pages = pagesFor([...matches, match(3, 2)], { side: 'red', station: 2 }, 'Q2', 2);
  expect(pages.map((p) => p.map((s) => s && `${s.match} ${s.team}`))).toEqual([
    ['Q2 22', 'Q3 32', 'Q4 42', 'Q5 52'],
    ['Q6 62', undefined, undefined, undefined]
  ]);
});
it('a match without a robot at that place is left out', () => {
  expect(pagesFor(matches, { side: 'blue', station: 2 }, 'Q1', 1)[0]!.map((s) => s?.match)).toEqual([
    'Q1',
    'Q3',
    'Q4',
    'Q5'
  ]);
});
it('no page is printed for nothing, but one always is', () => {
  expect(pagesFor(matches, { side: 'red', station: 1 }, 'Q6', 9)).toHaveLength(1);
  expect(pagesFor([], { side: 'red', station: 1 }, '', 3)).toHaveLength(1);
  expect(blank(2).map((p) => p.length)).toEqual([4, 4]);
});
it('places are those of the largest alliance', () => {
  expect(placesOf(matches).map((p) => `${p.side} ${p.station}`)).toEqual([
    'red 1',
    'red 2',
    'blue 1',
    'blue 2'
  ]);
});

import { expect, test } from 'vitest';
import { achieved, weightOf, withWeight, wrongWeight } from './goals';

const usual = { brief: 1, list: 1, detail: 0.25, asked: 1, spread: 0.005, twice: 0.005 };
const people = { people: [], seats: 6 };

test('only what is not as usual is kept', () => {
  expect(withWeight(undefined, 'brief', 3, usual)).toEqual({ brief: 3 });
  expect(withWeight({ brief: 3 }, 'list', 0, usual)).toEqual({ brief: 3, list: 0 });
  expect(withWeight({ brief: 3 }, 'brief', 1, usual)).toBeUndefined();
  expect(withWeight({ brief: 3, list: 0 }, 'brief', undefined, usual)).toEqual({ list: 0 });
  // Nobody knows what is usual: what was set stays set.
  expect(withWeight(undefined, 'brief', 1, undefined)).toEqual({ brief: 1 });
});

test('what was set counts before the usual', () => {
  expect(weightOf({ ...people, weights: { list: 0 } }, 'list', usual)).toBe(0);
  expect(weightOf(people, 'list', usual)).toBe(1);
  expect(weightOf(people, 'list', undefined)).toBeUndefined();
});

test.each([
  [0, ''],
  [1000, ''],
  [-0.1, 'Open questions: write a number from 0 to 1000.'],
  [1000.5, 'Open questions: write a number from 0 to 1000.'],
  [NaN, 'Open questions: write a number from 0 to 1000.']
])('a weight of %d', (value, words) => expect(wrongWeight('asked', value, 1000)).toBe(words));

test('what a plan achieved is told goal by goal, without the weights', () => {
  const lines = achieved({
    weights: { brief: 2, list: 1, detail: 0, asked: 1, spread: 0.5, twice: 0.005 },
    nobody: { brief: 20, list: 8, detail: 0, asked: 0, spread: 0, twice: 0 },
    loss: { brief: 15, list: 8, detail: 0, asked: 0, spread: -6, twice: -0.005 }
  });
  expect(lines.map((l) => [l.id, l.before, l.after, l.change])).toEqual([
    ['brief', '10.0', '7.5', '25\u00a0% less'],
    ['list', '8.0', '8.0', 'no change'],
    ['detail', '–', '–', 'left out'],
    ['asked', '–', '–', 'no question is open'],
    ['spread', '0', '12', '12 first meetings'],
    ['twice', '0', '1', '1 pair of scouts']
  ]);
});

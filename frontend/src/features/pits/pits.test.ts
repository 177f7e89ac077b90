import { expect, test } from 'vitest';
import { means, nearby, sentence } from './pits';

test('pits stand in the order in which one walks past them', () => {
  expect(['B1', '', 'A10', 'A2'].sort(nearby)).toEqual(['A2', 'A10', 'B1', '']);
});

test.each([
  [0, 48, 0, 'Nobody has visited a pit yet; there are 48.'],
  [15, 48, 1, '16 of 48 pits were visited. One is to be visited again.'],
  [45, 48, 3, 'All 48 pits were visited. 3 are to be visited again.'],
  [48, 48, 0, 'All 48 pits were visited.']
])('%i of %i visited, %i again', (visited, all, again, want) =>
  expect(sentence(visited, all, again)).toBe(want)
);

test.each([
  ['401', true],
  ['17', false],
  [' a1', true],
  ['HÉRON', true],
  ['gull', false],
  ['', true]
])('“%s” means 40117, Grey Heron, at A12: %s', (text, want) =>
  expect(means({ team: '40117', name: 'Grey Heron', pit: 'A12' }, text)).toBe(want)
);

import { expect, it } from 'vitest';
import { follow, type TurnClock } from './turn';

/** What the board shows: turn, in a rehearsal or not, at a time. */
type Step = [turn: string, rehearsing: boolean, at: number];

it.each<[string, Step[], number | undefined]>([
  ['the first that is seen may have begun before', [['1/a', false, 5]], undefined],
  [
    'the same turn goes on',
    [
      ['1/a', false, 5],
      ['2/b', false, 7],
      ['2/b', false, 9]
    ],
    7
  ],
  [
    'another turn begins',
    [
      ['1/a', false, 5],
      ['2/b', false, 7],
      ['3/c', false, 9]
    ],
    9
  ],
  [
    'after the last pick nothing runs',
    [
      ['1/a', false, 5],
      ['2/b', false, 7],
      ['', false, 9]
    ],
    undefined
  ],
  [
    'a rehearsal takes the clock over',
    [
      ['1/a', false, 5],
      ['2/b', false, 7],
      ['2/b', true, 8]
    ],
    7
  ],
  [
    'in a rehearsal turns begin too',
    [
      ['1/a', false, 5],
      ['1/a', true, 6],
      ['2/b', true, 8]
    ],
    8
  ],
  [
    'after a rehearsal nothing runs that did not before',
    [
      ['1/a', false, 5],
      ['1/a', true, 6],
      ['2/b', true, 8],
      ['1/a', false, 9]
    ],
    undefined
  ],
  [
    'after a rehearsal the clock runs from when the turn began',
    [
      ['1/a', false, 5],
      ['2/b', false, 7],
      ['2/b', true, 8],
      ['3/c', true, 9],
      ['4/d', true, 10],
      ['2/b', false, 11]
    ],
    7
  ],
  [
    'a move that was made during a rehearsal is seen at its end',
    [
      ['1/a', false, 5],
      ['1/a', true, 6],
      ['2/b', true, 8],
      ['2/b', false, 9]
    ],
    9
  ]
])('%s', (_name, steps, want) => {
  let clock: TurnClock | undefined;
  for (const [turn, rehearsing, at] of steps) clock = follow(clock, turn, rehearsing, at);
  expect(clock?.began).toBe(want);
});

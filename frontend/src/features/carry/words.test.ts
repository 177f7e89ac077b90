import { describe, expect, it } from 'vitest';
import { readNumbers, sayFirst, sayMissing, sayTaken } from './words';

describe('readNumbers', () => {
  it.each([
    ['2, 5 and 7', [2, 5, 7]],
    ['7 7 2', [2, 7]],
    ['0 13 -4', [4]],
    ['', []]
  ])('%s', (text, numbers) => expect(readNumbers(text, 12)).toEqual(numbers));

  it('reads what sayMissing says, which is read out', () =>
    expect(readNumbers(sayMissing([3, 4, 11]), 12)).toEqual([3, 4, 11]));
});

describe('sayMissing', () => {
  it.each([
    [[3], '3'],
    [[3, 4], '3 and 4'],
    [Array.from({ length: 20 }, (_, i) => i + 1), '1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12 and 8 more']
  ])('%j', (numbers, said) => expect(sayMissing(numbers)).toBe(said));
});

describe('sayTaken', () => {
  it.each([
    [
      sayTaken('home', 3, 'ana', 3),
      'From ana: 3 versions of records taken in. They go on to the server from here.'
    ],
    [sayTaken('home', 1, 'ana', 3), 'From ana: 1 version of records taken in, 2 were here.'],
    [sayTaken('home', 0, 'ana', 3), 'From ana: all 3 versions are here already.'],
    [sayTaken('out', 0, 'lead', 0), 'From lead: nothing in it is new here.'],
    [sayTaken('out', 0, 'lead', 1), 'From lead: taken over. It shows in its places now.'],
    [
      sayTaken('out', 2, 'lead', 0, '14:32'),
      'From lead: taken over. It shows in its places now, as it was at 14:32.'
    ]
  ])('%s', (said, want) => expect(said).toBe(want));
});

describe('sayFirst', () => {
  it.each([
    [0, 0, 'Nothing waits here'],
    [1, 0, '1 record waits here: show it'],
    [5, 2, '3 records wait here: show them'],
    [5, 5, 'The lead has all']
  ])('%d wait, %d handed', (waiting, handed, said) =>
    expect(sayFirst('scout', waiting, handed)).toContain(said)
  );
});

import { describe, expect, it } from 'vitest';
import { match } from './fixture';
import { componentSquares, solveSums } from './least-squares';

const row = (of: string, sum: number) => ({ of: of.split(' '), sum });

describe('least squares', () => {
  it('is that of R', () => {
    // R 4.2.2: coef(lm(c(10, 13, 9, 15, 12, 8) ~ 0 + x)), x the 0/1 matrix of these pairs.
    const found = solveSums([
      row('1 2', 10),
      row('3 4', 13),
      row('1 3', 9),
      row('2 4', 15),
      row('1 4', 12),
      row('2 5', 8)
    ]);
    const want = { 1: 3.75, 2: 6.5, 3: 5, 4: 8.25, 5: 1.5 };
    Object.entries(want).forEach(([team, v]) => expect(found.get(team)).toBeCloseTo(v, 6));
  });

  it('does not guess what the schedule does not settle', () => {
    const found = solveSums([row('1 2', 10), row('1 2', 12), row('3 4', 7), row('3 5', 9), row('4 5', 8)]);
    expect(found.get('1')).toBeUndefined();
    expect(found.get('2')).toBeUndefined();
    expect(found.get('3')).toBeCloseTo(4);
    expect(found.get('5')).toBeCloseTo(5);
  });

  it('takes the components of played matches, every robot of the schedule counted', () => {
    const of = (id: string, red: string, finish: number) => {
      const m = match(id, red.split(' '), ['8', '9'], [20, 30]);
      m.red.result = { score: 20, components: { finish } };
      return m;
    };
    const matches = [
      of('Q1', '1 2', 6),
      of('Q2', '1 3', 5),
      of('Q3', '2 3', 3),
      match('Q4', ['1', '2'], ['3', '4'])
    ];
    matches[0]!.red.absent = ['2'];
    const found = componentSquares(matches, ['finish', 'other']);
    expect([...found.keys()]).toEqual(['finish']);
    const want = { 1: 4, 2: 2, 3: 1 };
    expect([...found.get('finish')!.keys()]).toEqual(Object.keys(want));
    for (const [team, v] of Object.entries(want)) expect(found.get('finish')!.get(team)).toBeCloseTo(v, 9);
  });
});

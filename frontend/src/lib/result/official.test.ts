import { gameFile } from '$lib/game/fixtures';
import { expect, it } from 'vitest';
import { impossibleFouls, impossiblePart, impossibleRanking, type Known } from './official';

const slackwater = gameFile('slackwater.json');
const stonefield = gameFile('stonefield.json');
const millrace = gameFile('millrace.json');
const part = (game: typeof slackwater, id: string) => game.components!.find((c) => c.id === id)!;

// By hand from the games' points: finish is three robots of 0, 2 or 10, at most two of them 10.
it.each([0, 2, 4, 6, 10, 12, 14, 20, 22])('finish of %i can be', (v) => {
  expect(impossiblePart(slackwater, part(slackwater, 'finish'), v)).toBeUndefined();
});
it.each([
  [8, '6 or 10'],
  [15, '14 or 20'],
  [24, '22'],
  [30, '22']
])('finish of %i cannot be; %s could', (v, near) => {
  expect(impossiblePart(slackwater, part(slackwater, 'finish'), v)).toBe(
    `Finish cannot be ${v} by the game file; ${near} could.`
  );
});
it('autonomous is threes, at most three of them, and sixes', () => {
  const can = (v: number) => impossiblePart(slackwater, part(slackwater, 'autonomous'), v) === undefined;
  expect(Array.from({ length: 20 }, (_, v) => v).filter(can)).toEqual([0, 3, 6, 9, 12, 15, 18]);
});
it('pieces are whole', () => {
  expect(impossiblePart(slackwater, part(slackwater, 'barrels'), 17)).toBeUndefined();
  expect(impossiblePart(slackwater, part(slackwater, 'barrels'), 17.5)).toMatch(/whole number/);
});
it('caps of an option count: one roof of 12, others porches of 4', () => {
  const can = (v: number) => impossiblePart(stonefield, part(stonefield, 'homecoming'), v) === undefined;
  expect(Array.from({ length: 40 }, (_, v) => v).filter(can)).toEqual([0, 4, 8, 12, 16, 20]);
});
it('bonuses and halves are reckoned with; points that can be lost are not judged', () => {
  const extra = part(stonefield, 'extra'); // first at work 6, all gathered 7, bells 3 at most four times
  expect(impossiblePart(stonefield, extra, 13)).toBeUndefined();
  expect(impossiblePart(stonefield, extra, 26)).toMatch(/25 could/);
  expect(
    impossiblePart(millrace, { id: 'x', sum: ['sack_high'] }, 11),
    'two sacks in the loft'
  ).toBeUndefined();
  expect(impossiblePart(millrace, { id: 'x', sum: ['sack_high'] }, 12)).toMatch(/11 or 22 could/);
  expect(impossiblePart(millrace, { id: 'x', sum: ['spill', 'sack_high'] }, 12)).toBeUndefined();
});
it('fouls of 4 and 10 never make 2, 6 or 9', () => {
  const bad = Array.from({ length: 16 }, (_, v) => v).filter((v) => impossibleFouls(slackwater, v));
  expect(bad).toEqual([1, 2, 3, 5, 6, 7, 9, 11, 13, 15]);
});

const side = (score: number | undefined, parts: Known['parts'] = {}, fromFouls?: number): Known => ({
  score,
  fromFouls,
  parts
});
it.each([
  // own, other, typed, what is said
  [side(96, { barrels: 20, finish: 14 }), side(71), 4, undefined],
  [side(96, { barrels: 20, finish: 12 }), side(71), 4, '3 ranking points (Win, Full load), not 4'],
  [side(71, { barrels: 19, finish: 2 }), side(96), 1, '0 ranking points, not 1'],
  [side(96), side(71), 2, undefined],
  [side(96), side(71), 1, '2 to 4 ranking points (Win), not 1'],
  [side(80, { barrels: 3, finish: 0 }), side(80), 2, '1 ranking points (Tie), not 2'],
  [side(undefined), side(71), 9, undefined]
] as const)('ranking points %#', (own, other, typed, want) => {
  const said = impossibleRanking(slackwater, 'red', typed, own, other);
  if (want === undefined) expect(said).toBeUndefined();
  else expect(said).toContain(want);
});
it('a ranking point by the other side’s foul may be there', () => {
  const parts = { built: 0, sown: 0, homecoming: 0, morning: 0 };
  const other = side(9, { morning: 0 });
  expect(impossibleRanking(stonefield, 'red', 3, side(20, parts, 8), other)).toBeUndefined();
  expect(impossibleRanking(stonefield, 'red', 4.5, side(20, parts, 0), other)).toMatch(/has 2 rank/);
  // Both lanterns are published by nobody.
  expect(impossibleRanking(stonefield, 'red', 3.5, side(20, { ...parts, built: 10 }, 0), other)).toMatch(
    /2 to 3/
  );
});

import { describe, expect, it } from 'vitest';
import { matchLength } from './clock';
import { gameFile } from './fixtures';
import { gapOf, goOnWith, handOn, takeOver, whole } from './handover';
import { observed, sheetOf } from './observed';
import { emptySheet, nudge, putAt, start, tap, type Sheet } from './sheet';

// 15 s autonomous, 3 s pause, 135 s driver-controlled, its last 20 s endgame.
const game = gameFile('slackwater.json');
const T = 1_900_000_000_000;
const began = (): Sheet => tap(emptySheet('Q7', 1, '40117', 'ann'), T, 'auto_deck');
const end = matchLength(game);

describe('a match that is handed on', () => {
  it('is two records that say what each scout watched, and leave out what they did not', () => {
    const first = observed(game, handOn(tap(began(), T + 30_000, 'deck'), T + 60_000), end);
    expect(first).toMatchObject({ to: 60_000, counts: { auto_deck: { made: 1 }, deck: { made: 1 } } });
    expect(first).not.toHaveProperty('from');

    let s = takeOver(game, emptySheet('Q7', 1, '40117', 'bo'), T + 62_000);
    expect(observed(game, s, end).from).toBe(18_000); // until the clock is set
    s = tap(nudge(s, 44_000), T + 70_000, 'hold');
    const second = observed(game, s, end);
    expect(second).toMatchObject({ from: 62_000, counts: { hold: { made: 1 }, deck: { made: 0 } } });
    expect(second.counts).not.toHaveProperty('auto_deck');
    expect(second.taps).toEqual([[70_000, 'hold', 1]]);
  });

  it('counts seconds until it was handed on', () => {
    const s = start(began(), T);
    const stopped = { ...s, entries: [...s.entries, { at: T + 50_000, id: 'stopped', step: 1 }] };
    expect(observed(game, handOn(stopped, T + 60_000), end).answers?.stopped).toBe(10);
  });

  it('stays a part through a correction, and can become whole', () => {
    const body = observed(game, handOn(began(), T + 10_000), end);
    expect(body.counts).not.toHaveProperty('deck'); // the driver-controlled part was not seen
    expect(observed(game, sheetOf(game, body), 0)).toEqual(body);
    expect(observed(game, whole(handOn(began(), T + 10_000)), end).counts?.deck).toEqual({
      made: 0,
      missed: 0
    });
  });
});

describe('another robot in mid-match', () => {
  it('goes on with the same clock and nothing tapped', () => {
    const next = goOnWith(began(), T + 40_000, '40123');
    expect(next).toMatchObject({ team: '40123', started: T, from: T + 40_000, entries: [] });
    expect(goOnWith(emptySheet('Q7', 1, '40117', 'ann'), T, '40123')).not.toHaveProperty('from');
  });
});

describe('a tablet that was off', () => {
  it.each([
    ['reloaded', T + 30_000, T + 33_000, undefined],
    ['off for a while', T + 30_000, T + 60_000, { from: T + 30_000, to: T + 60_000, over: false }],
    ['dead to the end', T + 30_000, T + 900_000, { from: T + 30_000, to: T + end, over: true }],
    ['closed after the end', T + end + 1000, T + 900_000, undefined],
    ['closed in the last seconds', T + end - 5000, T + 900_000, undefined]
  ] as const)('%s', (_, seen, now, gap) => {
    expect(gapOf(began(), end, seen, now)).toEqual(gap);
  });
});

describe('places', () => {
  it('of taps and of the start are kept, and read back', () => {
    let s = tap(emptySheet('Q7', 1, '40117', 'ann'), T, 'auto_deck');
    s = putAt(s, s.entries[0]!, [3.5, 2]);
    s = { ...s, startSpot: [1, 4] };
    const body = observed(game, s, end);
    expect(body.taps).toEqual([
      [0, 'start', 1, 1, 4],
      [0, 'auto_deck', 1, 3.5, 2]
    ]);
    expect(body.answers).not.toHaveProperty('start');
    expect(sheetOf(game, body).startSpot).toEqual([1, 4]);
    expect(observed(game, sheetOf(game, body), end)).toEqual(body);
  });
});

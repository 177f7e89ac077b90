import { describe, expect, it } from 'vitest';
import { SEATS, sizeOf, stepped, turned, turnedRect, unturned, type Turns } from './field';

const box = { length_m: 16, width_m: 8 };

describe('the drawing of the field', () => {
  // A point at red's end, in the corner that is at the top while red is on the left.
  it.each([
    ['on my left', [16, 8], [1, 2]],
    ['on my right', [16, 8], [15, 6]],
    ['at the near end', [8, 16], [2, 15]],
    ['at the far end', [8, 16], [6, 1]]
  ] as const)('with red %s', (name, size, at) => {
    const { turns } = SEATS.find((s) => s.name === name)!;
    expect(sizeOf(box, turns)).toEqual(size);
    expect(turned(box, turns, [1, 2])).toEqual(at);
  });

  it.each([0, 1, 2, 3] as Turns[])(
    'turned %i times gives a tap back to the centimetre, within the field',
    (turns) => {
      expect(unturned(box, turns, turned(box, turns, [3.14159, 2.5]))).toEqual([3.14, 2.5]);
      const [x, y] = unturned(box, turns, [-5, 99]);
      expect(x === 0 || x === 16).toBe(true);
      expect(y === 0 || y === 8).toBe(true);
    }
  );

  it('turns a rect with its sides', () => {
    expect(turnedRect(box, 1, { x: 0, y: 3, w: 1, h: 2 })).toEqual({ x: 3, y: 0, w: 2, h: 1 });
  });

  // On the drawing as it is seen: up is up, wherever red is.
  it.each([
    ['ArrowUp', false, 0, [3, 1.5]],
    ['ArrowRight', true, 0, [5, 2]],
    ['ArrowLeft', true, 1, [1, 2]],
    ['ArrowDown', false, 3, [3, 2.5]],
    ['Enter', false, 0, undefined]
  ] as const)('is walked over by %s (shift: %s, turned %i times)', (key, far, turns, to) => {
    expect(stepped(box, turns, [3, 2], key, far)).toEqual(to);
  });

  it.each([0, 1] as Turns[])('has edges where a mark stops, turned %i times', (turns) => {
    const walk = (key: string) => {
      let at: [number, number] = [3, 2];
      for (let i = 0; i < 50; i++) at = stepped(box, turns, at, key, false)!;
      return at;
    };
    const [w, h] = sizeOf(box, turns);
    expect(walk('ArrowRight')).toEqual([w, 2]);
    expect(walk('ArrowDown')).toEqual([3, h]);
    expect(walk('ArrowLeft')).toEqual([0, 2]);
    expect(walk('ArrowUp')).toEqual([3, 0]);
  });
});

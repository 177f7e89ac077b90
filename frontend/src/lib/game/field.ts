/**
 * The drawing of the field, turned to where the scout sits. A game file's metres
 * run along the field from red's end (x) and across it (y); unturned, red is on
 * the left and y runs down.
 */
import type { Field, Shape } from './types';

/** Quarter turns clockwise: 0 red on the left, 1 at the far end, 2 on the right, 3 at the near end. */
export type Turns = 0 | 1 | 2 | 3;

/** Where red is, seen from the scout's seat, in the order that a scout would look. */
export const SEATS: { turns: Turns; name: string }[] = [
  { turns: 0, name: 'on my left' },
  { turns: 2, name: 'on my right' },
  { turns: 3, name: 'at the near end' },
  { turns: 1, name: 'at the far end' }
];

type Box = Pick<Field, 'length_m' | 'width_m'>;

/** Width and height of the turned drawing in metres. */
export const sizeOf = ({ length_m, width_m }: Box, turns: Turns): [number, number] =>
  turns % 2 === 0 ? [length_m, width_m] : [width_m, length_m];

/** A place of the field on the turned drawing. */
export function turned(
  { length_m: l, width_m: w }: Box,
  turns: Turns,
  [x, y]: [number, number]
): [number, number] {
  if (turns === 1) return [w - y, x];
  if (turns === 2) return [l - x, w - y];
  if (turns === 3) return [y, l - x];
  return [x, y];
}

/** A point of the turned drawing on the field, to the centimetre and within it. */
export function unturned(box: Box, turns: Turns, [x, y]: [number, number]): [number, number] {
  const { length_m: l, width_m: w } = box;
  const at: [number, number] =
    turns === 1 ? [y, w - x] : turns === 2 ? [l - x, w - y] : turns === 3 ? [l - y, x] : [x, y];
  const within = (v: number, most: number) => Math.round(Math.min(most, Math.max(0, v)) * 100) / 100;
  return [within(at[0], l), within(at[1], w)];
}

/** A rect as the turned drawing has it: corner and size. */
export function turnedRect(
  box: Box,
  turns: Turns,
  { x, y, w = 0, h = 0 }: { x: number; y: number; w?: number; h?: number }
): { x: number; y: number; w: number; h: number } {
  const [ax, ay] = turned(box, turns, [x, y]);
  const [bx, by] = turned(box, turns, [x + w, y + h]);
  return { x: Math.min(ax, bx), y: Math.min(ay, by), w: Math.abs(ax - bx), h: Math.abs(ay - by) };
}

/** How far one press of an arrow key moves a mark over the field, and with Shift, in metres. */
const STEP_M = 0.5;
const LEAP_M = 2;

/** Where a key moves a mark on the turned drawing; undefined: it is no arrow. The edges stop it. */
export function stepped(
  box: Box,
  turns: Turns,
  [x, y]: [number, number],
  key: string,
  far: boolean
): [number, number] | undefined {
  const [dx, dy] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[key] ?? [];
  if (dx === undefined || dy === undefined) return undefined;
  const by = far ? LEAP_M : STEP_M;
  const [w, h] = sizeOf(box, turns);
  return [Math.min(w, Math.max(0, x + dx * by)), Math.min(h, Math.max(0, y + dy * by))];
}

/** A line, circle or rect as the turned drawing has it. */
export function turnedShape(box: Box, turns: Turns, s: Shape): Shape {
  if (s.kind === 'rect') return { ...s, ...turnedRect(box, turns, s) };
  const [x, y] = turned(box, turns, [s.x, s.y]);
  if (s.kind === 'circle') return { ...s, x, y };
  const [x2, y2] = turned(box, turns, [s.x2 ?? s.x, s.y2 ?? s.y]);
  return { ...s, x, y, x2, y2 };
}

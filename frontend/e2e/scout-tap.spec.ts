/** How fast a tap is painted on a slow tablet, and that it costs its own card only. */
import { expect, tablet, test } from './fixtures';
import { gameEvent, scoutOf } from './scout-event';
import { paintsOf, tracing, type Painted } from './trace';

// The recorder of what a failed test did would be measured along.
test.use({ trace: 'off' });

test('how long a tap takes until it is painted', async ({ lead, device }) => {
  const path = await gameEvent(lead, 'Paint', 'saltern.json');
  const scout = await device(tablet);
  await scoutOf(lead, scout, path, 'ann');
  await scout.goto(`${path}/watch/Q1/40117`);
  await scout.getByRole('button', { name: 'Work', exact: true }).tap();
  // As in a match: one card after another, now and then the same again.
  const cards = ['Salt in low pan made', 'Salt in low pan made', 'Cart moved made', 'Salt in low pan missed'];
  const button = (name: string) => scout.getByRole('button', { name: new RegExp(`^${name}`) });
  const spots = await Promise.all(
    cards.map(async (name) => {
      const box = await button(name).boundingBox();
      if (!box) throw new Error(`${name} is not there`);
      return { x: box.x + box.width / 2, y: box.y + box.height / 2 };
    })
  );
  const devtools = await scout.context().newCDPSession(scout);
  await devtools.send('Emulation.setCPUThrottlingRate', { rate: 4 });
  /** Resolves once so many frames were drawn after the next event of a kind. */
  const drawn = (after: string, frames: number) =>
    scout.evaluate(
      ([type, n]) =>
        new Promise<void>((done) => {
          const wait = (left: number) =>
            left > 0 ? requestAnimationFrame(() => setTimeout(() => wait(left - 1))) : done();
          addEventListener(type, () => wait(n), { once: true });
        }),
      [after, frames] as const
    );
  const trace = await tracing(devtools);
  const ROUNDS = 10;
  for (const spot of Array.from({ length: ROUNDS }, () => spots).flat()) {
    // Asked before the touch, so that the browser has nothing to answer while it is measured.
    const pressed = drawn('pointerdown', 1);
    // Its own frame, and the one with what follows it.
    const shown = drawn('click', 3);
    await scout.evaluate(() => undefined);
    // A finger stays longer than a frame.
    await devtools.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: [spot] });
    await pressed;
    await devtools.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] });
    await shown;
  }
  await expect(button('Salt in low pan made')).toHaveAccessibleName(`Salt in low pan made ${2 * ROUNDS}`);
  await expect(button('Cart moved made')).toHaveAccessibleName(`Cart moved made ${ROUNDS}`);
  const taps = paintsOf(await trace());
  expect(taps).toHaveLength(cards.length * ROUNDS);
  const at = (q: number, part: (t: Painted) => number) => {
    const sorted = taps.map(part).toSorted((a, b) => a - b);
    return sorted[Math.ceil(q * sorted.length) - 1] ?? NaN;
  };
  const say = (what: keyof Painted, name: string = what) =>
    `${name} ${at(0.5, (t) => t[what]).toFixed(1)} (${at(0.95, (t) => t[what]).toFixed(1)})`;
  console.log(
    `a tap on a processor four times slower, ms of ${taps.length} taps, in the middle (19 of 20 below): ` +
      `${say('tap', 'from the click to its frame')}, of that ` +
      [say('handlers'), say('style'), say('layout'), say('paint'), say('commit')].join(', ') +
      `; ${say('all', 'with all that the browser does from the end of the touch')}` +
      `; ${say('later', 'then for what follows')}; ${say('shown', 'on the screen after')}; a frame is 16.7`
  );
  // What makes it fast: nothing is styled anew, and only the card that was tapped is laid out.
  expect(at(0.5, (t) => t.styled)).toBeLessThan(5);
  expect(at(0.5, (t) => t.laidOut)).toBeGreaterThan(0);
  expect(at(0.5, (t) => t.laidOut)).toBeLessThan(30);
});

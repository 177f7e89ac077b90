/**
 * A whole match by touch, without a network and with a reload in the middle, from a script of
 * moments. The page's clock is moved from moment to moment, so nothing waits. The record that the
 * server stores in the end has each tap of the script, at its time.
 */
import type { Page } from '@playwright/test';
import { check } from './axe';
import { expect, tablet, test } from './fixtures';
import { gameEvent, scoutOf, stored } from './scout-event';

/** [milliseconds since the start of the match, what is touched, what the time line gets]. */
type Step = [number, string | RegExp, ...[string, number][]];
const RELOAD = 'reload';

interface Script {
  file: string;
  steps: Step[];
  /** Part of the body that follows from the steps. */
  body: Record<string, unknown>;
}

const scripts: Script[] = [
  {
    file: 'slackwater.json',
    steps: [
      [0, 'Casts off', ['cast_off', 1]],
      [3_200, /^Barrel on deck made/, ['auto_deck', 1]],
      [5_000, /^Barrel on deck missed/, ['auto_deck_missed', 1]],
      [6_100, /^Take back Barrel on deck miss/, ['auto_deck_missed', -1]],
      [20_000, /^Barrel on deck made/, ['deck', 1]],
      [24_400, /^Barrel on deck made/, ['deck', 1]],
      [31_000, /^Barrel in hold missed/, ['hold_missed', 1]],
      [33_300, /^Barrel in hold made/, ['hold', 1]],
      [50_000, /^Stopped/, ['stopped', 1]],
      [60_000, RELOAD],
      [62_000, /^Scoring/, ['stopped', -1]],
      [70_000, /^Pennant raised/, ['pennant', 1]],
      [90_000, /^Minor foul/, ['minor', 1]],
      [140_000, 'Moored', ['mooring:moored', 1]],
      [148_000, 'Lifted', ['mooring:moored', -1], ['mooring:lifted', 1]]
    ],
    body: {
      counts: {
        cast_off: { made: 1 },
        auto_deck: { made: 1, missed: 0 },
        deck: { made: 2, missed: 0 },
        hold: { made: 1, missed: 1 },
        pennant: { made: 1 }
      },
      choices: { mooring: { option: 'lifted' } },
      fouls: { minor: 1, major: 0 },
      answers: { stopped: 12 }
    }
  },
  {
    file: 'millrace.json',
    steps: [
      [0, 'Sluice opened', ['sluice', 1]],
      [31_000, /^Sack on cart made/, ['sack', 1]],
      [40_500, /^Sack on cart missed/, ['sack_missed', 1]],
      [41_000, /^Sack in loft/, ['sack_high', 1]],
      [45_000, RELOAD],
      [52_000, /^Sack in loft/, ['sack_high', 1]],
      [53_000, /^Take back Sack in loft/, ['sack_high', -1]],
      [60_000, /^Sack spilled/, ['spill', 1]],
      [80_000, /^Stopped/, ['halted', 1]],
      [95_000, /^Scoring/, ['halted', -1]],
      [120_000, 'Tried, failed', ['ramp_tried', 1]],
      [140_000, 'Half way', ['ramp:half', 1]]
    ],
    body: {
      counts: {
        sluice: { made: 1 },
        sack: { made: 1, missed: 1 },
        sack_high: { made: 1 },
        spill: { made: 1 }
      },
      choices: { ramp: { option: 'half', tried: true } },
      fouls: { push: 0 },
      answers: { halted: 15 }
    }
  },
  {
    file: 'stonefield.json',
    steps: [
      [0, 'Left through the gate', ['gate', 1]],
      [6_000, /^Stone laid at dawn missed/, ['dawn_stone_missed', 1]],
      [26_000, /^Stone laid made/, ['stone', 1]],
      [35_000, /^Seed sown \+5/, ['seed', 5]],
      [36_000, /^Seed sown \+20/, ['seed', 20]],
      [50_000, /^Defending/, ['guarding', 1]],
      [60_000, RELOAD],
      [70_000, /^Feeding/, ['guarding', -1], ['feeding', 1]],
      [75_000, /^Scoring/, ['feeding', -1]],
      [80_000, 'Lost sight', ['unseen', 1]],
      [84_000, 'Lost sight', ['unseen', -1]],
      [100_000, /^Turf laid/, ['turf', 1]],
      [118_000, /^Bells rung/, ['bells', 1]],
      [130_000, 'Roof', ['shelter:roof', 1]],
      [140_000, /^Trespass/, ['trespass', 1]]
    ],
    body: {
      counts: {
        gate: { made: 1 },
        dawn_stone: { made: 0, missed: 1 },
        stone: { made: 1, missed: 0 },
        turf: { made: 1 },
        seed: { made: 25 },
        pass: { made: 0 },
        bells: { made: 1 },
        wave: { made: 0 }
      },
      choices: { shelter: { option: 'roof', tried: false } },
      fouls: { trespass: 1, blocked: 0, rude: 0 },
      answers: { guarding: 20, feeding: 5, stopped: 0, unseen: true }
    }
  }
];

const START = Date.parse('2031-03-06T09:00:00Z');

/** Sets the page's clock to a moment of the match. */
const at = (page: Page, ms: number) => page.clock.pauseAt(START + ms);

for (const { file, steps, body } of scripts) {
  test(`a whole match of ${file} by touch is stored to the tap`, async ({ lead, device }) => {
    const path = await gameEvent(lead, `Whole ${file}`, file);
    const scout = await device(tablet);
    await scoutOf(lead, scout, path, 'ann');
    await scout.clock.install({ time: START - 60_000 });
    await scout.goto(`${path}/watch/Q1/40117`);
    const save = scout.getByRole('button', { name: 'Save' });
    await save.waitFor();
    await scout.context().setOffline(true);

    for (const [ms, what] of steps) {
      await at(scout, ms);
      if (what === RELOAD) {
        await scout.reload();
        await save.waitFor();
      } else await scout.getByRole('button', { name: what, exact: true }).first().tap();
    }
    await at(scout, 175_000);
    await save.tap();
    await scout.clock.resume();
    await expect(scout.getByText('Saved: Q1, 40117.')).toBeVisible();
    await scout.context().setOffline(false);
    await expect.poll(() => stored(lead, path)).toHaveLength(1);

    const [got] = await stored(lead, path);
    expect(got).toMatchObject({ match: 'Q1', team: '40117', scout: 'ann', ...body });
    expect(got).not.toHaveProperty('edited');
    expect(got).not.toHaveProperty('to');
    const want = steps.flatMap(([ms, , ...entries]) =>
      (entries as [string, number][]).map(([id, step]) => ({ ms, id, step }))
    );
    const taps = (got?.taps ?? []) as [number, string, number][];
    expect(taps.map(([, id, step]) => [id, step])).toEqual(want.map(({ id, step }) => [id, step]));
    for (const [i, { ms, id }] of want.entries())
      expect(Math.abs((taps[i]?.[0] ?? NaN) - ms), `${id} at ${ms}`).toBeLessThanOrEqual(50);
  });
}

test('holding a batch button goes on adding while it shoots, and one tap takes it back', async ({
  lead,
  device
}) => {
  const path = await gameEvent(lead, 'Held', 'stonefield.json');
  const scout = await device(tablet);
  await scoutOf(lead, scout, path, 'ann');
  await scout.clock.install({ time: START });
  await scout.goto(`${path}/watch/Q1/40117`);
  await scout.getByRole('button', { name: 'Day', exact: true }).tap();
  const five = scout.getByRole('button', { name: 'Seed sown +5' });
  const total = scout.getByRole('group', { name: 'Seed sown' }).locator('.total');
  await scout.clock.pauseAt(START + 10_000);
  const box = (await five.boundingBox())!;
  await scout.mouse.move(box.x + 20, box.y + 20);
  await scout.mouse.down();
  await scout.clock.runFor(3_000);
  await scout.mouse.up();
  await expect(total).toHaveText('15');
  await scout.clock.runFor(2_000);
  await expect(total).toHaveText('15');
  await five.tap();
  await expect(total).toHaveText('20');
  await scout.getByRole('button', { name: /^Take back Seed sown \+15/ }).tap();
  await expect(total).toHaveText('5');
});

test('a touch of the field, or a cross-hair by keyboard, says where a shot was, turned to where the scout sits', async ({
  lead,
  device
}) => {
  const path = await gameEvent(lead, 'Places', 'stonefield.json');
  const scout = await device(tablet);
  await scoutOf(lead, scout, path, 'ann');
  await scout.goto(`${path}/watch/Q1/40117`);
  const field = scout.getByRole('button', { name: /^Field/ });
  /** Touches a part of the drawing's width and height. */
  const touch = async (x: number, y: number) => {
    const box = (await field.boundingBox())!;
    await scout.touchscreen.tap(box.x + box.width * x, box.y + box.height * y);
  };
  await touch(0.25, 0.5);
  await expect(scout.getByText('Start is marked')).toBeVisible();
  await scout.getByRole('button', { name: 'Something wrong?' }).tap();
  await scout.getByRole('button', { name: 'on my right' }).tap();
  await scout.getByRole('button', { name: 'Close' }).tap();
  await scout.getByRole('button', { name: /^Stone laid at dawn made/ }).tap();
  await touch(0.25, 0.25);
  // By keyboard: from the middle 2 m to the right, which is red's end now, and half a metre up.
  const key = (what: string) => scout.keyboard.press(what);
  await scout.getByRole('button', { name: /^Stone laid at dawn missed/ }).focus();
  await key('Enter');
  for (let i = 0; i < 40 && !(await field.evaluate((e) => e === document.activeElement)); i++)
    await key('Tab');
  await expect(field).toBeFocused();
  await expect(field).toHaveAccessibleName('Field: Where? Stone laid at dawn, missed');
  await key('Shift+ArrowRight');
  await key('ArrowUp');
  await expect(scout.getByText('6.3 m from red’s end, 4.6 m across', { exact: false })).toBeAttached();
  await check(scout, 'a cross-hair on the field');
  await key('Enter');
  await scout.getByRole('button', { name: 'Save' }).tap();
  await expect.poll(() => stored(lead, path)).toHaveLength(1);
  const [start, stone, missed] = (await stored(lead, path))[0]?.taps as [
    number,
    string,
    number,
    number,
    number
  ][];
  // 16.5 m by 8.2 m: a quarter from the left is 4.1 m from red, or from blue once red is on the right.
  expect(start?.slice(0, 3)).toEqual([0, 'spot', 1]);
  expect(start?.[3]).toBeCloseTo(4.1, 0);
  expect(start?.[4]).toBeCloseTo(4.1, 0);
  expect(stone?.slice(1, 3)).toEqual(['dawn_stone', 1]);
  expect(stone?.[3]).toBeCloseTo(12.4, 0);
  expect(stone?.[4]).toBeCloseTo(6.15, 0);
  expect(missed?.slice(1)).toEqual(['dawn_stone_missed', 1, 6.25, 4.6]);
});

/** What goes wrong in the stands: a tablet that was off, a match played again, the wrong robot, a late first tap. */
import type { Page } from '@playwright/test';
import { check } from './axe';
import { expect, tablet, test } from './fixtures';
import { gameEvent, scoutOf, stored } from './scout-event';

const START = Date.parse('2031-03-06T09:00:00Z');
const at = (page: Page, ms: number) => page.clock.pauseAt(START + ms);

test('a tablet was off, a match is played again, and a wrong robot is kept or dropped', async ({
  lead,
  device
}) => {
  const path = await gameEvent(lead, 'Mishaps', 'stonefield.json');
  const ann = await device(tablet);
  await scoutOf(lead, ann, path, 'ann');
  await ann.clock.install({ time: START - 60_000 });
  const press = (name: string | RegExp) => ann.getByRole('button', { name }).first().tap();
  const open = (form: string) => ann.goto(`${path}/watch/${form}`);
  const save = async (what: string) => {
    await press('Save');
    await expect(ann.getByText(`Saved: ${what}.`)).toBeVisible();
  };

  // Off for 40 s, of which the record says that nothing was seen.
  await open('Q1/40117');
  await ann.getByRole('button', { name: 'Save' }).waitFor();
  await at(ann, 0);
  await press(/^Stone laid at dawn made/);
  await at(ann, 30_000);
  await ann.goto('about:blank');
  await at(ann, 70_000);
  await open('Q1/40117');
  await expect(ann.getByText('This tablet was off from 0:30 to 1:10.')).toBeVisible();
  await ann.clock.resume(); // looking at the page takes time
  await check(ann, 'the tablet was off');
  await press('I missed that part');
  await expect(ann.getByText('This tablet was off', { exact: false })).toHaveCount(0);
  // A new scout must not take what is kept for what is saved.
  await expect(ann.getByText('Each tap is kept on this tablet; save when the match is over.')).toBeVisible();
  // It turns out to be a replay; what was tapped stays.
  await press('Something wrong?');
  await press('This is play 2, a replay');
  await expect(ann.getByText('play 2', { exact: false })).toBeVisible();
  await save('Q1, 40117');

  // Two wrong robots in the next match: the first did that, the second is nothing.
  await at(ann, 600_000);
  await open('Q2/40117');
  await press(/^Stone laid at dawn made/);
  await at(ann, 610_000);
  await press('Something wrong?');
  await press(/40123$/);
  await press(/Save that, and go on with 40123/);
  await expect(ann.getByRole('heading', { name: '40123' })).toBeVisible();
  await press(/^Stone laid at dawn missed/);
  await at(ann, 625_000);
  await press('Something wrong?');
  await press(/40102$/);
  await press(/Drop it, and go on with 40102/);
  await expect(ann.getByRole('heading', { name: '40102' })).toBeVisible();
  await at(ann, 635_000);
  await press(/^Stone laid made/);
  // The battery is flat until the match is over: the record ends when it was last on.
  await at(ann, 660_000);
  await ann.goto('about:blank');
  await at(ann, 900_000);
  await open('Q2/40102');
  await expect(ann.getByText('This tablet was off from 1:00 on, so the record ends there.')).toBeVisible();
  await press('Right, it ends there');
  await save('Q2, 40102');
  await ann.clock.resume();

  await expect.poll(() => stored(lead, path)).toHaveLength(3);
  const all = await stored(lead, path);
  const of = (match: string, team: string) => all.find((o) => o.match === match && o.team === team);
  const near = (from: number) => (ms: unknown) => Math.abs(Number(ms) - from) <= 5_000; // it says so every 5 s
  const replay = of('Q1', '40117');
  expect(replay).toMatchObject({ play: 2, counts: { dawn_stone: { made: 1 } }, answers: { unseen: true } });
  const away = (replay?.taps as [number, string, number][]).filter(([, id]) => id === 'unseen');
  expect(away.map(([, , step]) => step)).toEqual([1, -1]);
  expect(away.map(([ms], i) => near([30_000, 70_000][i]!)(ms))).toEqual([true, true]);

  expect(of('Q2', '40117')).toMatchObject({ counts: { dawn_stone: { made: 1, missed: 0 } }, to: 10_000 });
  expect(of('Q2', '40123')).toBeUndefined();
  const last = of('Q2', '40102');
  expect(last).toMatchObject({ from: 25_000, counts: { stone: { made: 1 } } });
  expect(last?.counts).not.toHaveProperty('dawn_stone');
  expect(near(60_000)(last?.to), `the record ends at ${String(last?.to)}`).toBe(true);
});

test('a lead sets the clock of a tablet that began late by another one', async ({ lead, device }) => {
  const path = await gameEvent(lead, 'Clocks', 'saltern.json');
  const moments = [30_000, 38_500, 52_000, 71_300];
  const watch = async (scout: Page, first: number) => {
    await scout.clock.install({ time: START - 60_000 });
    await scout.goto(`${path}/watch/Q1/40117`);
    await scout.getByRole('button', { name: 'Work', exact: true }).tap();
    await at(scout, first);
    await scout.getByRole('button', { name: /^Cart moved/ }).tap();
    for (const ms of moments) {
      await at(scout, ms);
      await scout.getByRole('button', { name: /^Salt in low pan made/ }).tap();
    }
    await scout.getByRole('button', { name: 'Save' }).tap();
    await scout.clock.resume();
    await expect(scout.getByText('Saved: Q1, 40117.')).toBeVisible();
  };
  for (const [name, first] of [
    ['ann', 0],
    ['bo', 6_200]
  ] as const) {
    const scout = await device(tablet);
    await scoutOf(lead, scout, path, name);
    await watch(scout, first);
  }
  await expect.poll(() => stored(lead, path)).toHaveLength(2);
  const [ann, before] = await stored(lead, path);

  await lead.goto(`${path}/matches/Q1`);
  await expect(lead.getByText('bo’s clock began 6.2 s after ann’s, by 4 moments of 40117.')).toBeVisible();
  await check(lead, 'clocks of two tablets');
  await lead.getByRole('button', { name: 'Move bo’s times 6.2 s later' }).click();
  await expect(lead.getByText(/their clocks agree within 0.3 s/)).toBeVisible();
  const times = (o: Record<string, unknown> | undefined) =>
    (o?.taps as [number, string, number][] | undefined)?.slice(-4).map(([ms]) => ms);
  await expect.poll(async () => times((await stored(lead, path))[1])).toEqual(times(ann));
  const after = (await stored(lead, path))[1];
  expect(after?.counts).toEqual(before?.counts);
  expect(after).not.toHaveProperty('edited');

  await lead.getByRole('link', { name: 'History of 40117, watched by bo' }).click();
  await expect(lead.getByText(/times moved 6.2 s later, to ann’s clock/).first()).toBeVisible();
});

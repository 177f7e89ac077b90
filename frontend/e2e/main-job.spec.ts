/** The job of a weekend from end to end: files in, records from the stands, numbers that move, a list out. */
import type { Page } from '@playwright/test';
import {
  expect,
  exportList,
  joinEvent,
  listed,
  makeCodeByHand,
  makeEventByHand,
  makeList,
  points,
  ready,
  rowOf,
  tablet,
  test
} from './fixtures';

/** Expected points of the red alliance, as the page of a coming match shows them. */
const expectedRed = async (page: Page) =>
  Number(
    await page.getByRole('region', { name: 'Forecast', exact: true }).locator('.expected.red b').textContent()
  );

/** Taps one match of robot 41 into the form: it does nearly all that its alliance scored. */
async function watch41(scout: Page, match: string): Promise<void> {
  await expect(scout.getByRole('heading', { name: new RegExp(`^${match}\\b`) })).toBeVisible();
  await scout.getByRole('link', { name: /alliance 41 / }).tap();
  await scout.getByRole('button', { name: 'Sluice opened' }).tap();
  await scout.getByRole('button', { name: 'Driven' }).tap();
  const sack = scout.getByRole('button', { name: /^Sack on cart made/ });
  for (let i = 0; i < 9; i++) await sack.tap();
  await expect(sack).toHaveAccessibleName('Sack on cart made 9');
  const loft = scout.getByRole('button', { name: /^Sack in loft/ });
  for (let i = 0; i < 5; i++) await loft.tap();
  await scout.getByRole('button', { name: 'On top' }).tap();
  await scout.getByRole('button', { name: 'Save' }).tap();
  await expect(scout.getByText(`Saved: ${match}, 41.`)).toBeVisible();
}

test('records made without a network move the lead’s numbers, and a list becomes a file', async ({
  lead,
  device
}) => {
  const path = await makeEventByHand(lead, 'Whole Weekend');
  const code = await makeCodeByHand(lead, path);

  // The lead has two pages open from now on. Q9 is coming, and 41 is red in it.
  const robots = await lead.context().newPage();
  const match = await lead.context().newPage();
  await robots.goto(`${path}/robots`);
  await match.goto(`${path}/matches/Q9`);
  await expect(robots.locator('.points b')).toHaveCount(8);
  await expect(match.getByRole('region', { name: 'Forecast', exact: true })).toBeVisible();
  await expect(match.getByRole('region', { name: 'Red alliance' })).toContainText('41');
  let loads = 0;
  for (const page of [robots, match]) page.on('load', () => loads++);

  const scout = await device(tablet);
  await joinEvent(scout, code, 'ann');
  await expect(scout.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await ready(scout);
  const before = { points: await points(robots, '41'), red: await expectedRed(match) };

  await scout.context().setOffline(true);
  await scout.getByRole('button', { name: 'Match after' }).tap();
  await watch41(scout, 'Q1');
  // The next match comes up by itself; 41 is not in it.
  await expect(scout.getByRole('heading', { name: /^Q2\b/ })).toBeVisible();
  await scout.getByRole('button', { name: 'Match after' }).tap();
  await watch41(scout, 'Q3');
  await expect(scout.getByText('2 records wait for a network')).toBeVisible();
  expect({ points: await points(robots, '41'), red: await expectedRed(match) }).toEqual(before);

  await scout.context().setOffline(false);
  await expect(scout.getByText('Everything is stored')).toBeVisible();
  await expect.poll(() => points(robots, '41')).toBeGreaterThan(before.points);
  await expect.poll(() => expectedRed(match)).toBeGreaterThan(before.red);
  expect(loads).toBe(0);

  // One list in two windows, ordered in both at the same moment.
  await makeList(lead, path, 'Saturday night');
  const other = await lead.context().newPage();
  await other.goto(new URL(lead.url()).pathname);
  await expect(other.locator('[data-row]')).toHaveCount(7);
  const start = await listed(lead);
  expect(await listed(other)).toEqual(start);
  await Promise.all([rowOf(lead, start[6]).press('Alt+Home'), rowOf(other, start[0]).press('Alt+ArrowDown')]);
  const want = [start[6], start[1], start[0], ...start.slice(2, 6)];
  await expect.poll(() => listed(lead)).toEqual(want);
  await expect.poll(() => listed(other)).toEqual(want);

  const file = await exportList(other);
  expect(file.name).toBe('saturday-night.csv');
  expect(file.lines).toEqual([
    'rank,team,tier,never,reason,note',
    ...want.map((team, i) => `${i + 1},${team},,0,,`),
    ''
  ]);
});

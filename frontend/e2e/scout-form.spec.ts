/** The scout's form: what fits, and what goes wrong in mid-match. */
import { check } from './axe';
import { expect, tablet, test } from './fixtures';
import { gameEvent, scoutOf, stored } from './scout-event';

test('fourteen actions fit on a tablet without scrolling, for both hands', async ({ lead, device }) => {
  const path = await gameEvent(lead, 'Fourteen', 'saltern.json');
  const scout = await device(tablet);
  await scoutOf(lead, scout, path, 'ann');
  for (const [width, height] of [
    [1180, 820],
    [820, 1180]
  ] as const) {
    await scout.setViewportSize({ width, height });
    for (const hand of ['right', 'left']) {
      await scout.goto(`${path}/watch/Q1/40117`);
      await scout.getByRole('button', { name: 'Work', exact: true }).tap();
      if (hand === 'left') {
        await scout.getByRole('button', { name: 'Something wrong?' }).tap();
        await scout.getByRole('button', { name: 'Left-handed' }).tap();
        await check(scout, `something wrong, ${width}`);
        await scout.getByRole('button', { name: 'Close' }).tap();
      }
      await expect(scout.locator(`[data-hand=${hand}]`)).toBeVisible();
      const small = await scout.locator('.cards button, .fouls button, aside button').evaluateAll((all) =>
        all.flatMap((b) => {
          const r = b.getBoundingClientRect();
          const inside = r.left >= 0 && r.top >= 0 && r.right <= innerWidth && r.bottom <= innerHeight;
          // The smallest target, less what a browser rounds.
          return inside && r.width >= 55.5 && r.height >= 55.5
            ? []
            : [`${b.textContent}: ${r.width} × ${r.height}`];
        })
      );
      expect(small, `${width} × ${height}, ${hand} hand`).toEqual([]);
      expect(await scout.locator('.cards .cell').count()).toBe(14);
      expect(await scout.locator('.cards').evaluate((e) => e.scrollHeight <= e.clientHeight + 1)).toBe(true);
      await check(scout, `fourteen actions, ${width}, ${hand} hand`);
      if (hand === 'left') {
        await scout.getByRole('button', { name: 'Something wrong?' }).tap();
        await scout.getByRole('button', { name: 'Left-handed' }).tap();
        await scout.getByRole('button', { name: 'Close' }).tap();
      }
    }
  }
});

test('a match is handed to another tablet, and a wrong robot is put right', async ({ lead, device }) => {
  const path = await gameEvent(lead, 'Handed on', 'saltern.json');
  const ann = await device(tablet);
  await scoutOf(lead, ann, path, 'ann');
  await ann.goto(`${path}/watch/Q1/40117`);
  await ann.getByRole('button', { name: 'Work', exact: true }).tap();
  await ann.getByRole('button', { name: /^Cart moved/ }).tap();
  await ann.getByRole('button', { name: 'Something wrong?' }).tap();
  await ann.getByRole('button', { name: 'Save my part' }).tap();
  await expect(ann.getByText('Saved: Q1, 40117.')).toBeVisible();

  const bo = await device(tablet);
  await scoutOf(lead, bo, path, 'bo');
  await bo.goto(`${path}/watch/Q1/40123`);
  await bo.getByRole('button', { name: 'The match runs already' }).tap();
  await bo.getByRole('button', { name: '−30 s' }).tap();
  await bo.getByRole('button', { name: /^Post raised/ }).tap();
  // It was 40117 all along.
  await bo.getByRole('button', { name: 'Something wrong?' }).tap();
  await bo.getByRole('button', { name: /40117$/ }).tap();
  await bo.getByRole('button', { name: /I watched it all along/ }).tap();
  await expect(bo.getByRole('heading', { name: '40117' })).toBeVisible();
  await expect(bo.getByRole('button', { name: /^Post raised/ })).toHaveAccessibleName(/1$/);
  await bo.getByRole('button', { name: 'Save' }).tap();
  await expect.poll(() => stored(lead, path)).toHaveLength(2);
  const [first, second] = await stored(lead, path);
  expect(first).toMatchObject({ scout: 'ann', team: '40117', counts: { cart: { made: 1 } } });
  expect(first).toHaveProperty('to');
  expect(second).toMatchObject({ scout: 'bo', team: '40117', counts: { post: { made: 1 } } });
  // The longest part begins at 17 s; the clock was put on by 30 s.
  expect(second?.from).toBeGreaterThanOrEqual(17_000 + 30_000);
});

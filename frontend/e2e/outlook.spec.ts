/** Standings to come, calibration, what-if and the night between, on a small event; and how soon a record shows. */
import type { Page } from '@playwright/test';
import { check } from './axe';
import { expect, makeEvent, makeList, test } from './fixtures';

test('standings, a match in detail, what if, calibration and the night between', async ({ lead }) => {
  const path = await makeEvent(lead, 'Outlook Trial');

  await lead.goto(`${path}/standings`);
  await expect(lead.getByText(/^We are \d+(st|nd|rd|th); we end /)).toBeVisible();
  await expect(lead.locator('tbody a[data-team]')).toHaveCount(8);
  // Another goal is asked for, stays in the address, and is there without a network.
  await lead.getByRole('button', { name: 'First' }).click();
  await expect(lead.getByText(/; we end first in /)).toBeVisible();
  expect(lead.url()).toContain('top=1');
  await lead.keyboard.press('/');
  await lead.keyboard.type('905');
  await expect(lead.locator('tbody a[data-team]')).toHaveCount(2);
  await lead.keyboard.press('ArrowDown');
  await expect(lead.locator('a[data-team]').first()).toBeFocused();
  await lead.keyboard.press('/');
  await lead.keyboard.press('Escape');
  await check(lead, 'standings');
  await lead.context().setOffline(true);
  await lead.getByRole('button', { name: /^Captain, top/ }).click();
  await expect(lead.getByText(/; we end among the captains in /)).toBeVisible();
  await lead.getByRole('button', { name: 'First' }).click();
  await expect(lead.getByText(/; we end first in /)).toBeVisible();
  await lead.context().setOffline(false);

  await lead.goto(`${path}/matches/Q9`);
  await expect(lead.getByText('Each dot is one of 41 scores that are equally likely.')).toBeVisible();
  await lead.getByText('What if …').click();
  const red = lead.getByRole('group', { name: 'Red' });
  const stops = red.getByRole('checkbox').first();
  await stops.check();
  await expect(lead.getByText(/Red wins: .+ → .+/)).toBeVisible();
  await red
    .getByRole('combobox', { name: /Whom .* defends against/ })
    .last()
    .selectOption({ index: 1 });
  await expect(lead.getByText(/Your assumption: .* of its points/)).toBeVisible();
  await expect(lead.locator('.answer.busy')).toHaveCount(0);
  await check(lead, 'what if');
  await lead.context().setOffline(true);
  await stops.uncheck();
  await expect(
    lead.getByText('What-if is worked out by the server, and there is no answer from it.')
  ).toBeVisible();
  await lead.context().setOffline(false);

  // Eight results are too few to judge forecasts by, and the page says so.
  await lead.goto(`${path}/calibration`);
  await expect(lead.getByText(/^Too little data: .* it takes 20 to judge/)).toBeVisible();
  await check(lead, 'calibration');
  await lead.goto(`${path}/matches/Q8`);
  await expect(lead.getByText('The forecast is from what was known just before the match.')).toBeVisible();
  await check(lead, 'expected and come');

  await makeList(lead, path, 'First picks');
  await lead.goto(`${path}/night`);
  await lead.getByLabel('Robot', { exact: true }).fill('77');
  await lead.getByLabel('Question', { exact: true }).fill('Does it lift?');
  await lead.getByRole('button', { name: 'Ask' }).click();
  await expect(lead.getByText('shows on the tablet that watches it next')).toBeVisible();
  await lead.getByRole('button', { name: 'Keep a dated copy of “First picks”' }).click();
  await expect(lead.getByText(/^Kept under Lists as “First picks, as of /)).toBeVisible();
  await check(lead, 'night');
  await lead.goto(`${path}/lists`);
  await lead.getByRole('link', { name: /^First picks, as of / }).click();
  await expect(lead.locator('[data-row]')).toHaveCount(7);
});

test('a result that is entered shows on every open page; how soon is printed', async ({ lead }) => {
  const path = await makeEvent(lead, 'Pace Trial');
  const open = async (to: string) => {
    const page = await lead.context().newPage();
    await page.goto(`${path}${to}`);
    return page;
  };
  const first = (page: Page) => page.locator('.first').first();
  const robots = await open('/robots');
  await expect(robots.locator('.points b')).toHaveCount(8);
  const standings = await open('/standings');
  await expect(first(standings)).toBeVisible();
  const matches = await open('/matches');
  await expect(matches.getByText(/^8 of 13 matches played/)).toBeVisible();

  // What each shows now, to wait until it is something else.
  const pages = [
    { name: 'Robots', page: robots, what: robots.locator('tbody') },
    { name: 'Standings', page: standings, what: standings.locator('.table tbody') },
    { name: 'Matches', page: matches, what: matches.locator('#row-Q10 .scores') }
  ];
  const before = await Promise.all(pages.map((p) => p.what.innerText()));

  const match = await open('/matches/Q9#result');
  await match.getByRole('textbox', { name: 'Score, red' }).fill('60');
  await match.getByRole('textbox', { name: 'Score, blue' }).fill('140');
  const start = Date.now();
  await match.getByRole('button', { name: 'Save the result' }).click();
  const took = await Promise.all(
    pages.map(async (p, i) => {
      await expect.poll(() => p.what.innerText(), { intervals: [20] }).not.toBe(before[i]);
      return `${p.name} ${Date.now() - start} ms`;
    })
  );
  console.log(`a result shows on open pages after: ${took.join(', ')}`);
});

/** A coach's phone and a second lead's laptop that meet no network: what a lead shows them, and what they say of its age. */
import { check } from './axe';
import { browserWith, codesOf, film } from './fake-camera';
import {
  apiOf,
  expect,
  importTable,
  joinEvent,
  laptop,
  listed,
  makeCode,
  makeEvent,
  makeList,
  ready,
  signIn,
  tablet,
  test,
  testdata
} from './fixtures';
import { allSent, record } from './recorder';
import { gameEvent, scoutOf, stored } from './scout-event';

test('a coach’s phone takes in lists, schedule and briefs from the lead’s screen, and says from when', async ({
  lead,
  server
}, info) => {
  test.slow(); // two devices and many codes
  const path = await makeEvent(lead, 'Coach offline');
  const shown = info.outputPath('codes.y4m');
  const { executablePath, args } = info.project.use.launchOptions ?? {};
  const seeing = await browserWith(shown, { executablePath, args });
  const phone = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
  const coach = await (
    await seeing.newContext({ ...phone, timezoneId: laptop.timezoneId, baseURL: server.url })
  ).newPage();
  await joinEvent(coach, await makeCode(lead, path, 'coach'), 'cora', '**/e/*');
  await coach.goto(`${path}/lists`);
  await ready(coach);
  await expect(coach.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await coach.context().setOffline(true);

  // Meanwhile the lead makes a list, agrees on something, and Q9 comes later.
  await makeList(lead, path, 'First picks');
  const order = await listed(lead);
  await lead.goto(`${path}/brief/Q9`);
  await lead.getByLabel('What was agreed').fill('We cross first');
  await lead.getByRole('button', { name: 'Agree', exact: true }).click();
  await expect(lead.getByText('We cross first')).toBeVisible();
  const brief = await lead.request.get(`${apiOf(path)}/brief/Q9`);
  const { why } = ((await brief.json()) as { plan: { why: string } }).plan;
  const later = testdata('events/millrace/matches.csv').replaceAll('T10:39:00', 'T10:55:00');
  await importTable(lead, `${path}/set-up?part=schedule`, 'Schedule', later.trim().split('\n'));
  await lead.goto(`${path}/carry?part=give-out`);
  await expect(lead.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await lead.getByRole('button', { name: 'Coach and leads' }).click();
  await lead.getByLabel('Briefs').check();
  await lead.getByRole('button', { name: 'Show the codes' }).click();
  const codes = await codesOf(lead);
  film(shown, codes);
  console.log(`${codes.length} codes for lists, schedule and briefs`);

  await coach.goto(`${path}/carry`);
  await coach.getByRole('button', { name: 'Start the camera' }).tap();
  const said = coach.getByText('From lead: taken over.', { exact: false });
  await expect(said).toBeVisible({ timeout: 120_000 }); // rounds of many codes
  await expect(said).toContainText(/as it was at \d\d:\d\d\.$/);
  await coach.getByRole('button', { name: 'Stop the camera' }).tap();
  await check(coach, 'taken over');

  // It outlives a reload, and each screen says whose word it is.
  const whose = coach.getByText(
    /^As lead gave it out at \d\d:\d\d, .*; the server has not answered since\.$/
  );
  await coach.goto(`${path}/lists`);
  await coach.getByRole('link', { name: 'First picks' }).tap();
  await expect(coach.locator('[data-row]')).toHaveCount(7);
  expect(await listed(coach)).toEqual(order);
  await expect(whose).toBeVisible();
  await coach.goto(`${path}/matches`);
  await expect(coach.getByText('10:55')).toBeVisible();
  await expect(whose).toBeVisible();
  await coach.goto(`${path}/brief/Q9`);
  await expect(coach.getByText('We cross first')).toBeVisible();
  await expect(coach.getByText(why)).toBeVisible();
  await expect(coach.getByText(/^Brief from .* the server does not answer/)).toBeVisible();
  await expect(whose).toBeVisible();
  expect(await coach.evaluate(() => document.documentElement.scrollWidth)).toBe(390);
  await check(coach, 'brief by codes');

  // The server answers again: it is its word.
  await coach.context().setOffline(false);
  await expect(coach.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await expect(whose).toBeHidden();
  await coach.reload();
  await expect(coach.getByText('We cross first')).toBeVisible();
  await expect(whose).toBeHidden();
  await seeing.close();
});

test('what one lead’s device took in is on the others when they meet, each record once', async ({
  lead,
  device
}) => {
  test.slow(); // three devices
  const path = await gameEvent(lead, 'Two leads', 'slackwater.json');
  const scout = await device(tablet);
  await scoutOf(lead, scout, path, 'ann');
  const second = await device(laptop);
  await signIn(second);
  for (const page of [second, lead]) {
    await page.goto(`${path}/carry`);
    await ready(page);
    await expect(page.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  }
  for (const page of [scout, second, lead]) await page.context().setOffline(true);
  await record(scout, path, [
    ['Q1', '40117'],
    ['Q2', '40117']
  ]);

  // From the tablet to one lead's device, and from that to the other.
  for (const [from, to, who] of [
    [scout, second, 'ann'],
    [second, lead, 'lead']
  ] as const) {
    await from.goto(`${path}/carry?part=hand-over`);
    await from.getByRole('button', { name: 'Show the codes' }).click();
    const saving = from.waitForEvent('download');
    await from.getByRole('button', { name: 'Save as a file' }).click();
    await to.goto(`${path}/carry?part=take-in`);
    await to.getByLabel('A file that another device saved').setInputFiles(await (await saving).path());
    await expect(
      to.getByText(`From ${who}: 2 versions of records taken in.`, { exact: false })
    ).toBeVisible();
  }
  await lead.goto(`${path}/matches/Q2`);
  await expect(lead.locator('#main').getByText('ann').first()).toBeVisible();

  // All three reach the server, the last in the chain first.
  for (const page of [lead, second, scout]) {
    await page.context().setOffline(false);
    await allSent(page);
    expect(await stored(lead, path)).toMatchObject([
      { match: 'Q1', team: '40117', scout: 'ann' },
      { match: 'Q2', team: '40117', scout: 'ann' }
    ]);
  }
});

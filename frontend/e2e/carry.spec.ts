/** Without any network between tablet and lead: records home by codes, a plan out by codes and by a file. */
import { check } from './axe';
import { browserWith, codesOf, film, textOf } from './fake-camera';
import {
  apiOf,
  ask,
  expect,
  joinEvent,
  laptop,
  makeCode,
  makeEvent,
  ready,
  signIn,
  tablet,
  test
} from './fixtures';

test('records come home by codes, a question goes out by codes', async ({ lead, device, server }, info) => {
  test.slow(); // three devices and five looks by axe
  const path = await makeEvent(lead, 'Without a network');
  const events = apiOf(path);
  const scout = await device(tablet);
  await joinEvent(scout, await makeCode(lead, path), 'ann');
  await ready(scout);
  await scout.getByRole('link', { name: /41 / }).first().tap();
  await scout.context().setOffline(true);
  await scout.getByRole('button', { name: 'Driven' }).tap();
  for (let i = 0; i < 12; i++) await scout.getByRole('button', { name: /^Sack on cart made/ }).tap();
  await scout.getByRole('button', { name: 'Save' }).tap();
  await expect(scout.getByText('1 record waits for a network')).toBeVisible();

  // The tablet shows it, in several codes.
  await scout.goto(`${path}/device`);
  await expect(scout.getByText('This tablet can work a day without a network.')).toBeVisible();
  await expect(scout.getByRole('listitem').filter({ hasText: 'Schedule' })).toContainText(
    /\d+ matches, up to [QPF]\d+, as of \d\d:\d\d\./
  );
  await check(scout, 'this device');
  await scout.getByRole('link', { name: 'Hand over or take in' }).tap();
  await expect(scout.getByText('1 record waits here: show it')).toBeVisible();
  await scout.getByRole('button', { name: 'Show the codes' }).tap();
  await scout.getByLabel('From further away').check();
  await expect(scout.getByRole('img', { name: /^Code \d of [2-9]$/ })).toBeVisible();
  await check(scout, 'codes');
  const codes = await codesOf(scout);
  const shown = info.outputPath('codes.y4m');
  film(shown, codes.toReversed());

  // A second lead's device, without a network either, looks at it.
  const { executablePath, args } = info.project.use.launchOptions ?? {};
  const seeing = await browserWith(shown, { executablePath, args });
  const second = await (await seeing.newContext({ baseURL: server.url, ...laptop })).newPage();
  await signIn(second);
  await second.goto(`${path}/carry`);
  await ready(second);
  await expect(second.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await second.context().setOffline(true);
  await second.getByRole('button', { name: 'Start the camera' }).click();
  await expect(second.getByText('From ann: 1 version of records taken in.', { exact: false })).toBeVisible();
  await expect(second.getByText('1 record waits for a network')).toBeVisible();
  await check(second, 'taken in');

  // The receipt goes back by hand; the record stays on the tablet until the server has it.
  const receipt = (await second.locator('.letters').textContent()) ?? '';
  expect(receipt).toMatch(/^[2-9A-Z]{4}-[2-9A-Z]{4}$/);
  await scout.getByLabel('Receipt on the lead’s screen').fill(receipt.toLowerCase());
  await scout.getByRole('button', { name: 'Check' }).tap();
  await expect(scout.getByText('The lead has 1 version of your records', { exact: false })).toBeVisible();
  await expect(scout.getByText('The lead has all that waits here', { exact: false })).toBeVisible();
  await expect(scout.getByRole('button', { name: 'Show again what was handed over, too' })).toBeVisible();

  // The lead's device finds a network: it is there once, under the scout, and on the first lead's screen.
  await second.context().setOffline(false);
  await expect(second.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  const stored = async () => {
    const answer = await lead.request.get(`${events}/records?kind=observation`);
    const { records } = (await answer.json()) as { records: { body: { match: string } }[] };
    return records.filter((r) => r.body.match === 'W1');
  };
  const one = [
    { conflict: false, body: { match: 'W1', team: '41', scout: 'ann', counts: { sack: { made: 12 } } } }
  ];
  expect(await stored()).toMatchObject(one);
  await seeing.close();
  await lead.goto(`${path}/matches/W1`);
  await expect(lead.getByRole('main').or(lead.locator('#main')).getByText('ann').first()).toBeVisible();

  // A question goes out to the tablet, by a reader that types.
  await ask(lead, path, 'Does the arm still bend?', '302');
  await lead.goto(`${path}/carry?part=give-out`);
  await expect(lead.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await lead.getByRole('button', { name: 'Show the codes' }).click();
  const plan = (await codesOf(lead)).map(textOf);
  expect(plan.length).toBeGreaterThan(1);
  await scout.getByRole('link', { name: 'Take in' }).tap();
  const reader = scout.getByLabel('Barcode reader');
  for (const text of plan.slice(1)) {
    await reader.fill(text);
    await reader.press('Enter');
  }
  await expect(scout.getByText('Still missing: 1.', { exact: false })).toBeVisible();
  await reader.fill(plan[0]?.replace('0', '1') ?? '');
  await reader.press('Enter');
  await expect(scout.getByRole('alert')).toContainText(/misread|not one that Sextant shows/);
  await reader.fill(plan[0] ?? '');
  await reader.press('Enter');
  await expect(scout.getByText('From lead: taken over.', { exact: false })).toBeVisible();
  await check(scout, 'taken over');

  // The same as a file; and a device without a camera is told what to do.
  const saving = lead.waitForEvent('download');
  await lead.getByRole('button', { name: 'Save as a file' }).click();
  await scout.getByLabel('A file that another device saved').setInputFiles(await (await saving).path());
  await expect(scout.getByText('From lead: nothing in it is new here.')).toBeVisible();
  await scout.getByRole('button', { name: 'Start the camera' }).tap();
  await expect(scout.getByRole('alert')).toContainText('a file (below), or a barcode reader');

  await scout.goto(`${path}/watch`);
  await scout.getByRole('link', { name: /302 / }).first().tap();
  await scout.getByRole('button', { name: 'Sluice opened' }).tap();
  await scout.getByRole('button', { name: 'Save' }).tap();
  await expect(scout.getByText('Does the arm still bend?')).toBeVisible();

  // The tablet finds a network after all: the record is the same one.
  await scout.context().setOffline(false);
  await scout.goto(`${path}/device`);
  await expect(scout.getByText('Everything is stored.')).toBeVisible();
  expect(await stored()).toMatchObject(one);
});

/** A tablet in a hall: it learns to trust the laptop, and works when the laptop is gone. */
import { joinEvent, makeCodeByHand, makeEventByHand, ready, tablet } from './fixtures';
import { expect, install, name, refusal, setUp, test } from './hall';

test('a tablet that trusts the laptop works without it', async ({ hall, home, open }) => {
  expect(hall.url).toMatch(/^https:\/\/hall\.test:\d+$/);
  const before = await open();
  expect(await refusal(before, hall.url)).toContain('ERR_CERT_AUTHORITY_INVALID');
  await install(before, hall, home);
  await before.close();

  const browser = await open();
  const lead = await setUp(browser, hall);
  const path = await makeEventByHand(lead, 'Hall Trial');
  const code = await makeCodeByHand(lead, path);
  const trust = lead.getByRole('region', { name: 'Before a tablet joins' });
  await expect(trust).toContainText(/http:\/\/hall\.test:\d+/);
  await expect(trust).toContainText(/([0-9A-F]{2}:){31}[0-9A-F]{2}/);
  await lead.screenshot({ path: test.info().outputPath('codes.png'), fullPage: true });
  const context = await browser.newContext({ ...tablet, baseURL: hall.url });
  const scout = await context.newPage();
  await joinEvent(scout, code, 'ann');
  await expect(scout.getByRole('heading', { name: /^W1/ })).toBeVisible(); // the schedule has come
  expect(await scout.evaluate(() => [location.hostname, isSecureContext])).toEqual([name, true]);
  await ready(scout);

  // The laptop is gone, not only the network.
  await hall.stop();
  await scout.reload();
  await expect(scout.getByRole('heading', { name: /^W1/ })).toBeVisible();
  await scout.getByRole('link', { name: /41 / }).first().tap();
  await scout.getByRole('button', { name: 'Sluice opened' }).tap();
  await scout.getByRole('button', { name: 'Finish' }).tap();
  await scout.getByRole('button', { name: 'Save' }).tap();
  await expect(scout.getByText('1 record waits for a network')).toBeVisible();
  await scout.close();

  // It comes back with a new certificate under the same authority.
  await hall.start();
  const again = await context.newPage();
  await again.goto(`${path}/watch`);
  await again.getByRole('link', { name: /^My records/ }).tap();
  await expect(again.getByRole('row', { name: /W1.*41.*stored/ })).toBeVisible();
});

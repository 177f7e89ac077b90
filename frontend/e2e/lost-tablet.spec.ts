/** A tablet is lost, shut out in two taps, and found again: nothing that was recorded on it is lost, or stored twice. */
import { readFileSync } from 'node:fs';
import { check } from './axe';
import { apiOf, expect, makeCode, makeEvent, ready, tablet, test } from './fixtures';

test('a lost tablet', async ({ lead, device }) => {
  const path = await makeEvent(lead, 'Lost and found');
  const code = await makeCode(lead, path);
  const scout = await device(tablet);
  await scout.goto(`/join#${code}`);
  await scout.getByLabel('Your nickname').fill('ann');
  await scout.getByRole('button', { name: 'Join' }).tap();
  await expect(scout.getByRole('heading', { name: 'Which robot do you watch?' })).toBeVisible();
  await expect(scout.getByRole('link', { name: /41 / }).first()).toBeVisible();
  await ready(scout);

  await scout.context().setOffline(true);
  await scout.getByRole('link', { name: /41 / }).first().tap();
  await scout.getByRole('button', { name: 'Sluice opened' }).tap();
  await scout.getByRole('button', { name: 'Finish' }).tap();
  await scout.getByRole('button', { name: 'Save' }).tap();
  await expect(scout.getByText('1 record waits for a network')).toBeVisible();

  // Two taps.
  await lead.goto(`${path}/set-up?part=people`);
  await lead.getByRole('button', { name: 'Take out ann' }).click();
  await expect(lead.getByText(/^Lost tablet\? Signs out all devices of ann/)).toBeVisible();
  await check(lead, 'people, taking out');
  await lead.getByRole('button', { name: 'Take out', exact: true }).click();
  await expect(lead.getByRole('row', { name: /^ann/ })).toHaveCount(0);

  // What it sends now is kept apart; the tablet keeps it too, and says what to do.
  await scout.context().setOffline(false);
  await expect(scout.getByText('1 record waits here until your lead accepts it')).toBeVisible();
  await scout.getByRole('link', { name: 'What to do' }).tap();
  await expect(scout.getByText('One record is on this device alone', { exact: false })).toBeVisible();
  await expect(scout.getByText(/^Your lead signed this device out/)).toBeVisible();
  await check(scout, 'this device, signed out');
  const saving = scout.waitForEvent('download');
  await scout.getByRole('button', { name: 'Save what is unsent as a file' }).tap();
  const file = readFileSync(await (await saving).path(), 'utf8');

  const events = apiOf(path);
  const observations = async () => {
    const answer = await lead.request.get(`${events}/records?kind=observation`);
    return ((await answer.json()) as { records: { record_id: string; conflict: boolean; body: unknown }[] })
      .records;
  };
  expect(await observations()).toEqual([]);

  // The lead is told, looks, and accepts it.
  await lead.goto(`${path}/set-up?part=people`);
  await expect(
    lead.getByRole('alert').filter({ hasText: /^One record of devices that were signed out/ })
  ).toBeVisible();
  const apart = lead.getByRole('region', { name: 'From devices that were signed out' });
  await expect(apart.getByRole('heading', { name: 'A device of ann' })).toBeVisible();
  await expect(apart.getByRole('row', { name: /W1, robot 41.*ann.*new/ })).toBeVisible();
  await check(lead, 'people, kept apart');
  await lead.screenshot({ path: test.info().outputPath('apart.png'), fullPage: true });
  await apart.getByRole('button', { name: 'Accept 1 record' }).click();
  await expect(lead.getByText(/^Accepted: 1 record\./)).toBeVisible();
  await expect(lead.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await expect(apart).toHaveCount(0);

  // It stands under the scout, and the history says who let it in.
  const [record] = await observations();
  await lead.goto(`${path}/history/${record?.record_id}`);
  await expect(lead.getByRole('listitem').filter({ hasText: 'ann scout' })).toContainText('let in by lead');
  await check(lead, 'history, let in');

  // The file of the tablet says the same once more: it is here already.
  await lead.goto(`${path}/set-up?part=files`);
  await lead.getByRole('button', { name: 'Unsent records of a tablet' }).click();
  await lead.getByLabel('Unsent records of a tablet, as text').fill(file);
  await expect(lead.getByRole('row', { name: /W1, robot 41.*ann.*here already/ })).toBeVisible();
  await check(lead, 'the file of a tablet');

  // Found again, under the same nickname: it sends what it had, which is known.
  await scout.getByRole('link', { name: 'Join again' }).tap();
  await scout.getByLabel('Code from your lead').fill(code);
  await scout.getByLabel('Your nickname').fill('ann');
  await scout.getByRole('button', { name: 'Join' }).tap();
  await expect(scout.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  expect(await observations()).toMatchObject([
    { conflict: false, body: { match: 'W1', team: '41', scout: 'ann' } }
  ]);
  await lead.goto(`${path}/set-up?part=people`);
  await expect(lead.getByRole('row', { name: /^ann.*computer, just now/ })).toBeVisible();
});

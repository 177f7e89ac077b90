/** The rota: planned by the lead, on the scout's tablet without a network, made anew when somebody is missing. */
import { expect, joinEvent, makeCode, makeEvent, ready, tablet, test } from './fixtures';
import { check } from './axe';

test('a rota is planned, read without a network, and made anew', async ({ lead, device }) => {
  const path = await makeEvent(lead, 'Rota');
  const scout = await device(tablet);
  await joinEvent(scout, await makeCode(lead, path), 's01');

  await lead.goto(`${path}/rota`);
  await expect(lead.getByText('Nobody is placed yet.')).toBeVisible();
  await lead.getByRole('button', { name: '+ s01' }).click();
  for (const name of ['s02', 's03']) {
    await lead.getByLabel('Somebody else').fill(name);
    await lead.getByRole('button', { name: 'Add', exact: true }).click();
  }
  await lead.getByLabel('Shifts of s03').fill('in the morning');
  await lead.getByLabel('Shifts of s03').blur();
  await expect(lead.getByText('“in the morning” is no shift.')).toBeVisible();
  await lead.getByLabel('Shifts of s03').fill('');
  await lead.getByLabel('Shifts of s03').blur();
  const plan = lead.getByRole('button', { name: /^Plan from Q\d+ on$/ });
  const next = /Q\d+/.exec((await plan.textContent()) ?? '')?.[0] ?? '';
  await plan.click();
  await expect(lead.getByText('this plan takes away')).toBeVisible();
  await check(lead, 'rota');
  await lead.getByRole('button', { name: 'Put it in force' }).click();
  await expect(lead.getByText(/^In force: \d+ seats changed\./)).toBeVisible();
  const row = lead.getByRole('row', { name: new RegExp(`^${next}\\b`) });
  await expect(row.getByRole('cell')).toHaveCount(3);
  const team = (await row.getByRole('cell').first().locator('b').textContent()) ?? '';
  expect(team).toMatch(/^\d+$/);

  // The tablet hears of it, and knows it without a network too.
  await expect(scout.getByText(`The rota sends you to ${team} in ${next}.`)).toBeVisible();
  await ready(scout);
  await scout.context().setOffline(true);
  await scout.reload();
  await expect(scout.getByText(`The rota sends you to ${team} in ${next}.`)).toBeVisible();
  await expect(scout.getByRole('link', { name: /Watch this robot/ })).toContainText(/It |Nobody|Its /);
  await scout.context().setOffline(false);

  // s02 goes home: nobody is left at that seat, and s01 stays where the next match is.
  await lead.getByRole('button', { name: /3 people/ }).click();
  await lead.getByLabel('s02 is away now').check();
  await plan.click();
  await lead.getByRole('button', { name: 'Put it in force' }).click();
  await expect(lead.getByRole('columnheader', { name: 's02' })).toHaveCount(0);
  await expect(row.getByRole('cell').first().locator('b')).toHaveText(team);
});

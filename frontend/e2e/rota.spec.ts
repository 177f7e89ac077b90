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

  // What it goes for: the usual comes from the server, what is set goes with the request.
  await lead.locator('summary', { hasText: 'What the plan goes for' }).click();
  await expect(lead.getByLabel('Robots hardly watched')).toHaveValue('0.25');
  await lead.getByLabel('Robots for the pick list').fill('-1');
  await lead.getByLabel('Robots for the pick list').blur();
  await expect(lead.getByText('Robots for the pick list: write a number from 0 to 1000.')).toBeVisible();
  await expect(plan).toBeDisabled();
  await lead.getByLabel('Robots for the pick list').fill('0');
  await lead.getByLabel('Robots for the pick list').blur();
  await plan.click();
  await expect(lead.getByText('this plan takes away')).toBeVisible();
  const achieved = (goal: string) => lead.getByRole('row', { name: goal }).getByRole('cell').last();
  await expect(achieved('Robots for the pick list')).toHaveText('left out');
  await expect(achieved('Robots hardly watched')).toHaveText(/^\d+\s% less$/);
  await check(lead, 'rota');
  await lead.getByRole('button', { name: 'As usual again' }).click();
  await plan.click();
  await expect(achieved('Robots for the pick list')).toHaveText(/^\d+\s% less$/);
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
  await lead.getByRole('button', { name: 'Plan without s02' }).click();
  await expect(lead.getByText(/^Without s02:/)).toBeVisible();
  await lead.getByRole('button', { name: 'Put it in force' }).click();
  await expect(lead.getByRole('columnheader', { name: 's02' })).toHaveCount(0);
  await expect(row.getByRole('cell').first().locator('b')).toHaveText(team);
  const s02 = lead.getByRole('listitem').filter({ hasText: 's02' });
  await expect(s02.getByText('away', { exact: true }).first()).toBeVisible();

  // On paper: by match and by scout, on one sheet for so few matches, A4 as US Letter.
  await lead.emulateMedia({ media: 'print' });
  await expect(lead.getByText('Rota by match')).toBeVisible();
  await expect(lead.getByText('Rota by scout')).toBeVisible();
  await expect(
    lead.getByText(/Printed .*The rota as it was set .*; results up to Q\d+\./).first()
  ).toBeVisible();
  await expect(lead.getByRole('button', { name: 'Print' })).toBeHidden();
  for (const format of ['A4', 'Letter']) {
    const pages = (await lead.pdf({ format })).toString('latin1');
    expect(pages.match(/\/Type\s*\/Page\b/g), format).toHaveLength(1);
  }
});

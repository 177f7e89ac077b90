/** The robots table as the lead arranges it, robots beside each other, and one robot's page. */
import { check } from './axe';
import { expect, importTable, makeEvent, test } from './fixtures';

test('the lead orders and keeps columns, compares robots and reads a robot’s page', async ({ lead }) => {
  const path = await makeEvent(lead, 'Knowing Trial');
  await importTable(
    lead,
    `${path}/set-up?part=files`,
    'Records of scouts',
    'events/millrace/observations.csv'
  );
  await lead.goto(`${path}/robots`);
  await expect(lead.locator('.points b')).toHaveCount(8);

  // Columns: one added, moved to the front, kept under a name; it holds after a reload.
  const heads = lead.getByRole('columnheader');
  const columns = lead.locator('summary', { hasText: 'Columns' });
  await columns.click();
  await lead.getByLabel('Offence, OPR').check();
  const left = lead.getByRole('button', { name: 'Offence, OPR further left' });
  while (await left.isEnabled()) await left.click();
  await lead.getByPlaceholder('Name for these columns').fill('Plain');
  await lead.getByRole('button', { name: 'Save', exact: true }).click();
  await expect(heads.nth(4)).toHaveText(/Offence/);
  await lead.getByRole('button', { name: 'As the table likes' }).click();
  await expect(heads.nth(4)).not.toHaveText(/Offence/);
  await lead.reload();
  await columns.click();
  await lead.getByRole('button', { name: 'Plain', exact: true }).click();
  await expect(heads.nth(4)).toHaveText(/Offence/);
  await columns.click();
  await check(lead, 'robots table');

  // Two robots, picked by keyboard and by pointer.
  await lead.locator('a[data-team="905"]').focus();
  await lead.keyboard.press('c');
  await lead.getByRole('checkbox', { name: 'Compare 1207' }).check();
  await lead.getByRole('link', { name: 'Compare', exact: true }).click();
  await expect(lead.getByRole('heading', { name: '905 and 1207' })).toBeVisible();
  const spreads = lead.getByRole('img', { name: /^Distributions of points a match\. 905: / });
  await expect(spreads.locator('svg')).toBeVisible();
  await lead.getByText('As a table').first().click();
  await expect(lead.getByRole('table').first().getByRole('rowheader')).toHaveText(['905', '1207']);
  await check(lead, 'comparing');

  // The page of one robot says what it can, and what it cannot.
  await lead.getByRole('region', { name: 'All figures' }).getByRole('link', { name: '1207' }).click();
  await expect(lead.getByRole('heading', { name: 'Points seen, match by match' })).toBeVisible();
  await expect(lead.getByRole('img', { name: /^Points seen: / }).locator('svg')).toBeVisible();
  await expect(lead.getByText('Too little data: no record tells when something happened.')).toBeVisible();
  await check(lead, 'a robot’s page');
  await lead.emulateMedia({ media: 'print' });
  await expect(lead.getByText(/^Knowing Trial\. Printed .* \(data state \d+\)\./)).toBeVisible();
  await expect(lead.getByPlaceholder('A note about this robot')).toBeHidden();
});

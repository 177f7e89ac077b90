/** Two people who enter the same thing differently: one tap decides, nothing is lost, and it can be taken back. */
import { check } from './axe';
import { expect, laptop, makeEvent, ready, test } from './fixtures';

test('two results of one match', async ({ lead, device }) => {
  const path = await makeEvent(lead, 'Two minds');
  await lead.goto(`${path}/set-up?part=codes`);
  await lead.getByRole('combobox', { name: 'For', exact: true }).selectOption('lead');
  await lead.getByRole('button', { name: 'Make a code' }).click();
  const code = await lead.getByRole('region', { name: 'The new code' }).locator('.code').textContent();

  // As the QR code opens it: the code is there, the nickname is what is left to type.
  const other = await device(laptop);
  await other.goto(`/join#${code?.trim()}`);
  await expect(other.getByLabel('Code from your lead')).toHaveValue(code?.trim() ?? '');
  await expect(other.getByLabel('Your nickname')).toBeFocused();
  await other.keyboard.type('bo');
  await other.keyboard.press('Enter');
  await other.waitForURL('**/e/*');

  await other.goto(`${path}/matches/Q9`);
  await expect(other.getByLabel('Score, red')).toBeVisible();
  await ready(other);
  await other.context().setOffline(true);
  await other.getByLabel('Score, red').fill('52');
  await other.getByLabel('Score, blue').fill('30');
  await other.getByRole('button', { name: 'Save the result' }).click();
  await expect(other.getByText('Saved on this device: 52 to 30.')).toBeVisible();

  await lead.goto(`${path}/matches/Q9`);
  await lead.getByLabel('Score, red').fill('45');
  await lead.getByLabel('Score, blue').fill('30');
  await lead.getByRole('button', { name: 'Save the result' }).click();
  await expect(lead.getByText('Saved on this device: 45 to 30.')).toBeVisible();
  await expect(lead.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();

  await other.context().setOffline(false);
  await lead.goto(path);
  // Blue's result was entered twice alike: nobody has to decide that.
  await lead.getByRole('link', { name: 'Two versions of one record disagree, in Q9.' }).click();
  await expect(lead.getByRole('heading', { name: 'Two versions of one record disagree' })).toBeVisible();
  await expect(lead.getByRole('row', { name: /^Score differs/ })).toBeVisible();
  await check(lead, 'records that disagree');
  await lead.getByRole('button', { name: 'This is right: what lead entered' }).click();
  await expect(lead.getByRole('heading', { name: 'No two versions disagree' })).toBeVisible();

  // The other's screen follows; the history has both, and goes back to either.
  await expect(other.getByLabel('Red alliance').getByText('45', { exact: true })).toBeVisible();
  await other.getByRole('link', { name: 'History of the result of red' }).click();
  await expect(other.getByRole('heading', { name: 'Q9, result of red' })).toBeVisible();
  await expect(other.getByText('Three versions; none is ever lost.')).toBeVisible();
  await expect(other.getByText('Decided for what lead entered.')).toBeVisible();
  await check(other, 'history of a record');
  await other.getByRole('button', { name: /^Go back to this: what bo entered/ }).click();
  await expect(other.getByText('Four versions; none is ever lost.')).toBeVisible();
  await expect(other.getByText('Score: 45 → 52')).toBeVisible();
  await lead.goto(`${path}/matches/Q9`);
  await expect(lead.getByLabel('Red alliance').getByText('52', { exact: true })).toBeVisible();

  await lead.getByRole('status').getByRole('link').click();
  await expect(lead.getByText('Everything that was recorded here is on the server too.')).toBeVisible();
  await check(lead, 'this device');
});

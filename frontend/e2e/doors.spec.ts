/** Ways in, and what stands in the way. */
import { apiOf, expect, joinEvent, makeCodeByHand, makeEvent, tablet, test } from './fixtures';

test('a link lets in, and its code leaves the address bar at once', async ({ lead, device }) => {
  const path = await makeEvent(lead, 'By link');
  const code = await makeCodeByHand(lead, path);
  const scout = await device(tablet);
  await scout.goto(`/join#${code}`);
  await expect(scout.getByLabel('Code from your lead')).toHaveValue(code);
  expect(new URL(scout.url()).hash).toBe('');
  await scout.getByLabel('Your nickname').fill('dot');
  await scout.getByRole('button', { name: 'Join' }).tap();
  await scout.waitForURL('**/watch');
  // A scout is nowhere near the lead's screens.
  await expect(scout.getByRole('navigation', { name: 'Screens' })).toHaveCount(0);
  expect((await scout.request.get(`${apiOf(path)}/estimates`)).status()).toBe(403);

  // The nickname belongs to that tablet now; the tablet itself takes it up again.
  const other = await device(tablet);
  await other.goto('/join');
  await other.getByLabel('Code from your lead').fill(code.toLowerCase().replace('-', ' '));
  await other.getByLabel('Your nickname').fill('dot');
  await other.getByRole('button', { name: 'Join' }).tap();
  await expect(other.getByRole('alert')).toContainText('taken by another device');
  await scout.getByText('This tablet').tap();
  await scout.getByRole('button', { name: 'Leave the event' }).tap();
  await joinEvent(scout, code, 'dot');

  // Revoked: nobody else comes in, and says why.
  await lead.getByRole('button', { name: /^Revoke the code for a scout/ }).click();
  await expect(lead.getByRole('cell', { name: 'revoked' })).toBeVisible();
  await other.getByLabel('Your nickname').fill('eve');
  await other.getByRole('button', { name: 'Join' }).tap();
  await expect(other.getByRole('alert')).not.toBeEmpty();
  expect(new URL(other.url()).pathname).toBe('/join');
});

test('a wrong password is refused in words', async ({ lead, device }) => {
  await lead.goto('/events');
  const page = await device({});
  await page.goto('/sign-in');
  await page.getByLabel('Name').fill('lead');
  await page.getByLabel('Password').fill('not the password');
  await page.getByRole('button', { name: 'Sign in' }).click();
  await expect(page.getByRole('alert')).not.toBeEmpty();
  expect(new URL(page.url()).pathname).toBe('/sign-in');
});

test('a bad table is told by line and column, and nothing of it is taken over', async ({ lead }) => {
  const path = await makeEvent(lead, 'Bad tables');
  await lead.goto(`${path}/set-up?part=schedule`);
  const table = lead.getByLabel('Schedule, as text');
  await table.fill('match,alliance,teams\nQ1,red,41 77\nQ1,blue,302\nQ2,red,41 999\nQ2,blue,302 905\n');
  await expect(lead.getByText('2 things are wrong,')).toBeVisible();
  await expect(lead.getByRole('row', { name: /^3 teams there are 1 teams/ })).toBeVisible();
  await expect(lead.getByRole('row', { name: /^4 teams .*999/ })).toBeVisible();
  await expect(lead.getByRole('button', { name: 'Take it over' })).toHaveCount(0);
  await table.fill('match,alliance,teams,colour\nQ1,red,41 77,x\n');
  await expect(lead.getByText(/is wrong,|are wrong,/)).toBeVisible();
  await expect(lead.getByRole('row', { name: /^1 colour/ })).toBeVisible();
  await expect(lead.getByText('8 teams, 14 matches')).toBeVisible();
});

test('a match and a team typed by hand', async ({ lead }) => {
  const path = await makeEvent(lead, 'By hand');
  await lead.goto(`${path}/set-up?part=teams`);
  await lead.getByRole('button', { name: 'Type or change by hand' }).click();
  await lead.getByLabel('Number, row 9').fill('7b');
  await lead.getByLabel('Name, row 9').fill('<i>Wheel</i>');
  await lead.getByRole('button', { name: 'Save the list' }).click();
  await expect(lead.getByRole('cell', { name: '<i>Wheel</i>' })).toBeVisible();
  await lead.goto(`${path}/set-up?part=schedule`);
  await expect(lead.getByText('9 teams, 14 matches, 9 played.')).toBeVisible();
  await lead.getByRole('button', { name: 'Add a match by hand' }).click();
  await lead.getByLabel('Match', { exact: true }).fill('q 90');
  await lead.getByLabel(/^Starts/).fill('2031-05-18T14:30');
  await lead.getByLabel(/Red, stations/).fill('7B 41');
  await lead.getByLabel(/Blue, stations/).fill('77');
  await lead.getByRole('button', { name: 'Save and next' }).click();
  await expect(lead.getByRole('alert')).toContainText('Blue needs 2 teams');
  await lead.getByLabel(/Blue, stations/).fill('77 302');
  await lead.getByRole('button', { name: 'Save and next' }).click();
  await expect(lead.getByRole('row', { name: /Q90 2031-05-18 14:30 .*7B.*41.*77.*302/ })).toBeVisible();
  await expect(lead.getByText('9 teams, 15 matches, 9 played.')).toBeVisible();
});

/** Every screen that this file names, in light and dark, has no serious fault that axe-core finds (WCAG 2.2 A and AA). */
import { check } from './axe';
import { joinEvent, makeCodeByHand, makeEvent, tablet, test } from './fixtures';

test('doors', async ({ device }) => {
  const page = await device({ viewport: { width: 390, height: 844 } });
  for (const path of ['/sign-in', '/join', '/set-up']) {
    await page.goto(path);
    await page.getByRole('heading', { level: 1 }).waitFor();
    await check(page, path);
  }
});

test('events and set-up', async ({ lead }) => {
  const path = await makeEvent(lead, 'Seen by all');
  await lead.goto('/events');
  await lead.getByText('Seen by all').waitFor();
  await check(lead, 'events');
  await lead.goto('/events/new');
  await lead.getByLabel('Game file, as text').fill('{"id": 1}');
  await lead.getByLabel('Name', { exact: true }).fill('x');
  await lead.getByRole('button', { name: 'Make the event' }).click();
  await lead.getByRole('alert').waitFor();
  await check(lead, 'new event with a bad game file');
  for (const part of ['teams', 'schedule', 'codes', 'people', 'game', 'event', 'files']) {
    await lead.goto(`${path}/set-up?part=${part}`);
    await lead.getByRole('heading', { name: 'Set-up' }).waitFor();
    await lead.getByText('8 teams, 14 matches').waitFor();
    await check(lead, part);
  }
  await lead.goto(`${path}/set-up?part=teams`);
  await lead.getByLabel('Team list, as text').fill('team,name\n041,x\n');
  await lead.getByText('One thing is wrong,').waitFor();
  await check(lead, 'problems of a table');
  await lead.getByRole('button', { name: 'Type or change by hand' }).click();
  await lead.getByRole('button', { name: 'Save the list' }).waitFor();
  await check(lead, 'teams by hand');
});

test('the scout’s screens', async ({ lead, device }) => {
  const path = await makeEvent(lead, 'Seen by scouts');
  const scout = await device(tablet);
  await joinEvent(scout, await makeCodeByHand(lead, path), 'cy');
  await check(lead, 'the new code');
  await scout.getByRole('link', { name: /77 / }).first().waitFor();
  await check(scout, 'pick');
  await scout.getByRole('link', { name: /77 / }).first().tap();
  await scout.getByRole('button', { name: 'Sluice opened' }).tap();
  await check(scout, 'form, first part');
  await scout.getByRole('button', { name: /^Clock/ }).tap();
  await scout.getByRole('button', { name: 'Driven' }).tap();
  await scout.getByRole('button', { name: /^Sack in loft/ }).tap();
  await check(scout, 'form, second part');
  await scout.getByRole('button', { name: 'Finish' }).tap();
  await check(scout, 'form, finish');
  await scout.getByRole('button', { name: 'Save' }).tap();
  await scout.getByRole('link', { name: 'My records (1)' }).tap();
  await scout.getByRole('link', { name: 'Correct W1, 77' }).waitFor();
  await check(scout, 'records');
  await scout.getByRole('link', { name: 'Correct W1, 77' }).tap();
  await scout.getByRole('button', { name: 'Save the correction' }).waitFor();
  await check(scout, 'correction');
});

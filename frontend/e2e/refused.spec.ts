/** A record that the server refuses stays on the tablet with the reason, and can be mended. */
import { readFileSync } from 'node:fs';
import { expect, joinEvent, makeCode, makeEvent, ready, tablet, test, testdata } from './fixtures';

test('the game changed while a scout had no network', async ({ lead, device }) => {
  const path = await makeEvent(lead, 'Changed rules');
  const scout = await device(tablet);
  await joinEvent(scout, await makeCode(lead, path), 'flo');
  await scout.getByRole('link', { name: /41 / }).first().waitFor();
  await ready(scout);
  await scout.context().setOffline(true);
  await scout.getByRole('link', { name: /41 / }).first().tap();
  await scout.getByRole('button', { name: 'Sluice opened' }).tap();
  await scout.getByRole('button', { name: 'Finish' }).tap();
  await scout.getByLabel('Seconds halted').fill('120');
  await scout.getByRole('button', { name: 'Save' }).tap();
  await expect(scout.getByText('1 record waits for a network')).toBeVisible();

  // The question gets an upper bound.
  const game = JSON.parse(testdata('games/millrace.json')) as {
    version: number;
    questions: { id: string; max?: number }[];
  };
  game.version++;
  for (const q of game.questions) if (q.id === 'halted') q.max = 60;
  await lead.goto(`${path}/set-up?part=game`);
  await lead.getByLabel('Corrected game file, as text').fill(JSON.stringify(game));
  await lead.getByRole('button', { name: 'Take it over' }).click();
  await expect(lead.getByText(/^Taken over: /)).toBeVisible();
  await expect(lead.getByRole('heading', { name: 'Millrace, version 3' })).toBeVisible();

  await scout.context().setOffline(false);
  await expect(scout.getByText('1 record was refused')).toBeVisible();
  await scout.getByRole('link', { name: /^My records/ }).tap();
  await expect(scout.getByRole('heading', { name: 'The server refused one record' })).toBeVisible();
  await expect(scout.getByText(/120 is out of range/).first()).toBeVisible();
  const saving = scout.waitForEvent('download');
  await scout.getByRole('button', { name: 'Save as file' }).tap();
  const file = readFileSync(await (await saving).path(), 'utf8');
  expect(JSON.parse(file)).toMatchObject({ kind: 'observation', body: { answers: { halted: 120 } } });

  await scout.getByRole('link', { name: 'Mend' }).tap();
  await expect(scout.getByRole('alert')).toContainText('120 is out of range');
  await scout.getByLabel('Seconds halted').fill('60');
  await scout.getByRole('button', { name: 'Save the correction' }).tap();
  await expect(scout.getByRole('row', { name: /W1.*41.*stored, corrected/ })).toBeVisible();
  await expect(scout.getByText('The server refused')).toHaveCount(0);
});

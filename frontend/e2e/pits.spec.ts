/** A visit to a pit without a network, with a photo; later on the lead's device and on another scout's. */
import { check } from './axe';
import { expect, joinEvent, makeCode, makeEvent, ready, tablet, test } from './fixtures';

test('a pit is visited without a network, and its photo is seen elsewhere', async ({ lead, device }) => {
  const path = await makeEvent(lead, 'Pits');
  const code = await makeCode(lead, path);
  const scout = await device(tablet);
  await joinEvent(scout, code, 's01');
  await scout.getByRole('link', { name: 'Pits' }).click();
  await expect(scout.getByText(/^Nobody has visited a pit yet/)).toBeVisible();
  await ready(scout);
  await scout.goto(`${path}/pits/905`);
  await scout.context().setOffline(true);
  await scout.reload();
  await check(scout, 'pit form');

  // A drawing of many pixels, as a camera would give.
  const photo = await scout.evaluate(async () => {
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [2400, 1800];
    const pen = canvas.getContext('2d');
    for (let i = 0; i < 400; i++) {
      if (pen) pen.fillStyle = `hsl(${i}, 80%, 50%)`;
      pen?.fillRect((i % 20) * 120, Math.floor(i / 20) * 90, 120, 90);
    }
    const url = canvas.toDataURL('image/png');
    return url.slice(url.indexOf(',') + 1);
  });
  await scout
    .locator('input[type=file]')
    .setInputFiles({ name: 'robot.png', mimeType: 'image/png', buffer: Buffer.from(photo, 'base64') });
  await expect(scout.getByRole('img', { name: 'Robot 905' })).toBeVisible();
  await scout.getByRole('button', { name: 'Add a routine' }).click();
  await scout.getByLabel('Name', { exact: true }).fill('two loads');
  await scout.getByLabel('Note').fill('rattles');
  await expect(scout.getByText('Kept here until you save.')).toBeVisible();
  await scout.reload(); // nothing is lost on the way
  await expect(scout.getByLabel('Note')).toHaveValue('rattles');
  await expect(scout.getByRole('img', { name: 'Robot 905' })).toBeVisible();
  await scout.getByLabel('Somebody should go there again').check();
  await scout.getByRole('button', { name: 'Save the visit' }).click();
  await expect(scout.getByText('Saved on this device.')).toBeVisible();
  await scout.context().setOffline(false);

  await lead.goto(`${path}/pits`);
  await expect(lead.getByText(/^1 of \d+ pits were visited\. One is to be visited again\.$/)).toBeVisible();
  const seen = lead.getByRole('img', { name: 'Robot 905' });
  await expect(seen).toBeVisible();
  expect(await seen.evaluate((i: HTMLImageElement) => i.naturalWidth)).toBe(1280);
  await check(lead, 'pits');
  const pits = lead.getByRole('main').getByRole('listitem');
  const all = await pits.count();
  await lead.keyboard.press('/');
  await lead.keyboard.type('331');
  await expect(pits).toHaveCount(1);
  await lead.keyboard.press('Escape');
  await expect(pits).toHaveCount(all);
  await lead.goto(`${path}/robots/905/page`);
  await expect(lead.getByText('“rattles”')).toBeVisible();
  await expect(lead.getByText('two loads')).toBeVisible();

  // Another scout recognises the robot by it, and sees nothing else of the visit.
  const other = await device(tablet);
  await joinEvent(other, code, 's02');
  await other.goto(`${path}/pits/905`);
  await expect(other.getByRole('heading', { name: /^905/ })).toBeVisible();
  await expect(other.getByText('rattles')).toHaveCount(0);
});

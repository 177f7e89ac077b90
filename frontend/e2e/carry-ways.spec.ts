/**
 * Ways that fail, and the next best one: cameras that are missing, not allowed or see
 * nothing; codes that are missing; files dropped, chosen and shared.
 */
import type { Page } from '@playwright/test';
import { check } from './axe';
import { browserWith, codesOf, emptyFilm, film } from './fake-camera';
import { expect, laptop, ready, signIn, tablet, test } from './fixtures';
import { BLUE, gameEvent, RED, scoutOf } from './scout-event';
import { record } from './recorder';

/** A tablet with records that wait, and no network. */
async function waiting(lead: Page, page: Page, path: string, nickname: string): Promise<void> {
  await scoutOf(lead, page, path, nickname);
  await expect(page.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await page.context().setOffline(true);
  const robots = ['Q1', 'Q2'].flatMap((match) => [...RED, ...BLUE].map((team) => [match, team] as const));
  await record(page, path, robots);
}

/** A lead's device that is told to take in, on a screen of its own. */
async function taking(page: Page, path: string): Promise<Page> {
  await signIn(page);
  await page.goto(`${path}/carry?part=take-in`);
  await ready(page);
  await expect(page.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await page.context().setOffline(true);
  return page;
}

test('a camera that is not allowed, or sees nothing, says why and what else there is', async ({
  lead,
  server
}, info) => {
  test.slow(); // three looks of many seconds each
  const path = await gameEvent(lead, 'Poor camera', 'slackwater.json');
  const shown = info.outputPath('film.y4m');
  emptyFilm(shown, 20);
  const { executablePath, args } = info.project.use.launchOptions ?? {};
  const browser = await browserWith(shown, { executablePath, args }, true);
  const context = await browser.newContext({ ...tablet, baseURL: server.url });
  await context.grantPermissions(['clipboard-read']); // and nothing else
  const page = await taking(await context.newPage(), path);
  const start = page.getByRole('button', { name: 'Start the camera' });

  await start.tap();
  await expect(page.getByRole('alert')).toContainText('The camera is not allowed here. Allow it');
  await otherWays(page);
  await check(page, 'not allowed');

  // Allowed after all, it sees nothing for want of light, then for want of a code.
  await context.grantPermissions(['camera']);
  await start.tap();
  await expect(page.getByText('It is too dark to read.', { exact: false })).toContainText('or take a file');
  await expect(page.getByRole('alert')).toBeHidden();
  await check(page, 'too dark');
  await page.getByRole('button', { name: 'Stop the camera' }).tap();
  emptyFilm(shown, 180);
  await start.tap();
  await expect(page.getByText('No code seen. Hold the camera so', { exact: false })).toBeVisible();
  await expect(page.getByText('Still no code.', { exact: false })).toContainText('or take a file');
  await browser.close();
});

/** What an alert must name when there is no picture, and what must be there. */
async function otherWays(page: Page): Promise<void> {
  await expect(page.getByRole('alert')).toContainText('a file (below), or a barcode reader that types');
  await expect(page.getByLabel('Barcode reader')).toBeVisible();
  await expect(page.getByLabel('A file that another device saved')).toBeVisible();
  await expect(page.getByRole('button', { name: 'Start the camera' })).toBeEnabled();
}

test('codes that were missed are named, and the other device holds on them', async ({
  lead,
  device,
  server
}, info) => {
  test.slow(); // three devices
  const path = await gameEvent(lead, 'Missed', 'slackwater.json');
  const scout = await device(tablet);
  await waiting(lead, scout, path, 'ann');
  await scout.goto(`${path}/carry`);
  await scout.getByRole('button', { name: 'Show the codes' }).tap();
  const all = await codesOf(scout);
  expect(all.length).toBeGreaterThan(3);
  const shown = info.outputPath('film.y4m');
  film(
    shown,
    all.filter((_, i) => i !== 1 && i !== 3)
  );
  const { executablePath, args } = info.project.use.launchOptions ?? {};
  const seeing = await browserWith(shown, { executablePath, args });
  const second = await taking(
    await (await seeing.newContext({ ...laptop, baseURL: server.url })).newPage(),
    path
  );
  await second.getByRole('button', { name: 'Start the camera' }).click();
  await expect(second.getByText('Still missing: 2 and 4.', { exact: false })).toBeVisible();
  await expect(second.getByText(`${all.length - 2} of ${all.length} codes`)).toBeVisible();
  await check(second, 'two missing');
  await second.getByRole('button', { name: 'Stop the camera' }).click();

  // Typed as it was read out: these two go round, and no other.
  await scout.getByLabel('Only these codes').fill('2 and 4');
  const image = scout.getByRole('img', { name: /^Code \d+ of \d+$/ });
  await expect(image).toHaveAccessibleName(`Code 2 of ${all.length}`);
  for (const n of [4, 2, 4]) {
    await scout.getByRole('button', { name: 'Next code' }).tap();
    await expect(image).toHaveAccessibleName(`Code ${n} of ${all.length}`);
  }
  await scout.getByLabel('Only these codes').fill('4');
  await expect(image).toHaveAccessibleName(`Code 4 of ${all.length}`);
  await expect(scout.getByRole('button', { name: 'Next code' })).toBeHidden();
  film(shown, [all[1]!, all[3]!]);
  await second.getByRole('button', { name: 'Start the camera' }).click();
  await expect(
    second.getByText('From ann: 12 versions of records taken in.', { exact: false })
  ).toBeVisible();
  await seeing.close();
});

/** What a stubbed share sheet was given. */
interface Shared {
  name: string;
  type: string;
  bytes: number[];
}

test('a file is saved, shared, dropped anywhere on the page, or chosen', async ({ lead, device }, info) => {
  test.slow(); // three devices
  const path = await gameEvent(lead, 'Files', 'slackwater.json');
  const scout = await device(tablet);
  // A browser with a share sheet: what the page gives to it is kept, and the person may close it.
  await scout.addInitScript(() => {
    const kept = { shared: [] as unknown[], answer: '' };
    Object.assign(globalThis, { sheet: kept });
    Object.assign(Navigator.prototype, {
      canShare: ({ files }: ShareData) => files?.length === 1,
      share: async ({ files }: ShareData) => {
        if (kept.answer) throw new DOMException('', kept.answer);
        for (const f of files ?? [])
          kept.shared.push({
            name: f.name,
            type: f.type,
            bytes: [...new Uint8Array(await f.arrayBuffer())]
          });
      }
    });
  });
  await waiting(lead, scout, path, 'ann');
  await scout.goto(`${path}/carry`);
  await scout.getByRole('button', { name: 'Show the codes' }).tap();
  const answer = (name: string) =>
    scout.evaluate((n) => ((globalThis as unknown as { sheet: { answer: string } }).sheet.answer = n), name);
  const share = scout.getByRole('button', { name: 'Share the file' });
  await answer('AbortError');
  await share.tap();
  await answer('NotAllowedError');
  await share.tap();
  await expect(scout.getByRole('alert')).toContainText('It was not shared: save the file and send it');
  await answer('');
  await share.tap();
  await expect(scout.getByRole('alert')).toBeHidden();
  const shared = await scout.evaluate(
    () => (globalThis as unknown as { sheet: { shared: Shared[] } }).sheet.shared
  );
  expect(shared).toMatchObject([{ name: 'records-ann.sextant.txt', type: 'text/plain' }]);
  const saving = scout.waitForEvent('download');
  await scout.getByRole('button', { name: 'Save as a file' }).tap();
  const saved = info.outputPath('records-ann.sextant');
  await (await saving).saveAs(saved);

  // A lead's laptop without camera and sheet takes what was dropped beside every box.
  const second = await taking(await device(laptop), path);
  await second.getByRole('button', { name: 'Start the camera' }).click();
  await expect(second.getByRole('alert')).toContainText('This device has no camera that the browser can use');
  await otherWays(second);
  await drop(second, saved);
  await expect(
    second.getByText('From ann: 12 versions of records taken in.', { exact: false })
  ).toBeVisible();
  await second.getByLabel('A file that another device saved').setInputFiles({
    name: shared[0]!.name,
    mimeType: shared[0]!.type,
    buffer: Buffer.from(shared[0]!.bytes)
  });
  await expect(second.getByText('From ann: all 12 versions are here already.')).toBeVisible();
  await second.getByLabel('A file that another device saved').setInputFiles({
    name: 'holiday.txt',
    mimeType: 'text/plain',
    buffer: Buffer.from('sun')
  });
  await expect(second.getByRole('alert').filter({ hasText: 'holiday' })).toContainText(
    'holiday.txt: This file is not one that Sextant saved'
  );
  await second.getByRole('link', { name: 'Hand over' }).click();
  await second.getByRole('button', { name: 'Show the codes' }).click();
  await expect(second.getByRole('button', { name: 'Save as a file' })).toBeVisible();
  await expect(second.getByRole('button', { name: 'Share the file' })).toBeHidden();
});

/** Drags a file of the disk over the heading and lets it go, as the browser itself does it. */
async function drop(page: Page, file: string): Promise<void> {
  const box = await page.getByRole('heading', { level: 1 }).boundingBox();
  if (!box) throw new Error('there is no heading');
  const devtools = await page.context().newCDPSession(page);
  for (const type of ['dragEnter', 'dragOver', 'drop'] as const)
    await devtools.send('Input.dispatchDragEvent', {
      ...{ type, x: box.x + 10, y: box.y + 10 },
      data: { items: [], files: [file], dragOperationsMask: 1 }
    });
  await devtools.detach();
}

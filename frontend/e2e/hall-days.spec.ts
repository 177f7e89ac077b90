/** Six tablets, two days without a network, an update of the laptop in between: everything arrives, each once. */
import { chmodSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Page } from '@playwright/test';
import type { Server } from './fixtures';
import { makeCodeByHand, makeEventByHand, ready, tablet } from './fixtures';
import { expect, install, setUp, test } from './hall';
import type { Revision } from '../src/lib/api';
import { allSent, asText, feedOf, record, takeUp, textOf } from './recorder';

/** The program with another version of the app in it; every byte else is the same. */
async function newer(lead: Page, hall: Server): Promise<string> {
  const worker = Buffer.from(await textOf(lead, '/service-worker.js'));
  const { version } = JSON.parse(await textOf(lead, '/_app/version.json')) as { version: string };
  const program = readFileSync(hall.binary ?? '');
  const at = program.indexOf(worker);
  expect(at, 'the program holds the app as it serves it').toBeGreaterThan(0);
  const place = worker.indexOf(version);
  expect(place, 'the worker says its version').toBeGreaterThan(0);
  program.write(
    version.replace(/^./, (c) => (c === '9' ? '8' : '9')),
    at + place
  );
  const file = join(tmpdir(), `sextant-e2e-newer-${process.pid}`);
  writeFileSync(file, program);
  chmodSync(file, 0o755);
  return file;
}

test('six tablets, two days, one update', async ({ hall, home, open }) => {
  test.slow(); // seven browsers on one machine
  const before = await open();
  await install(before, hall, home);
  await before.close();
  const browser = await open();
  const lead = await setUp(browser, hall);
  const path = await makeEventByHand(lead, 'Two days');
  const code = await makeCodeByHand(lead, path);

  // Half of them type the code, half open the link of the square.
  const scouts: Page[] = [];
  const took = { typed: [] as number[], link: [] as number[] };
  for (const name of ['ann', 'bo', 'cy', 'di', 'ed', 'flo']) {
    const page = await (await browser.newContext({ ...tablet, baseURL: hall.url })).newPage();
    const how = scouts.length % 2 === 0 ? 'typed' : 'link';
    const start = performance.now();
    await page.goto(how === 'typed' ? '/join' : `/join#${code}`);
    if (how === 'typed') await page.getByLabel('Code from your lead').fill(code);
    await page.getByLabel('Your nickname').fill(name);
    await page.getByRole('button', { name: 'Join' }).tap();
    await expect(page.getByRole('link', { name: /41 / }).first()).toBeVisible();
    took[how].push((performance.now() - start) / 1000);
    scouts.push(page);
  }
  const say = (all: number[]) => all.map((s) => s.toFixed(1)).join(', ');
  console.log(`joined, in seconds: by typed code ${say(took.typed)}; by link ${say(took.link)}`);
  for (const scout of scouts) {
    await ready(scout);
    await scout.context().setOffline(true);
  }

  // Two days: on two of them a match by taps, the rest by the app's own save.
  const made: Revision[] = [];
  const program = await newer(lead, hall);
  for (const [i, scout] of scouts.entries()) {
    const byTaps = i < 2 ? 1 : 0;
    if (byTaps) {
      await scout.getByRole('link', { name: /41 / }).first().tap();
      await scout.getByRole('button', { name: 'Sluice opened' }).tap();
      await scout.getByRole('button', { name: 'Finish' }).tap();
      await scout.getByRole('button', { name: 'Save' }).tap();
      await expect(scout.getByText('1 record waits for a network')).toBeVisible();
    }
    const rest = Array.from({ length: 60 - byTaps }, (_, n) => [`Q${n + 1}`, '41'] as const);
    made.push(...(await record(scout, path, rest)));
    await takeUp(scout);
    await expect(scout.getByText('60 records wait for a network')).toBeVisible();
  }

  await hall.stop();
  hall.binary = program;
  await hall.start();
  for (const scout of scouts) await scout.context().setOffline(false);
  for (const scout of scouts) await allSent(scout);
  const feed = await feedOf(lead, path);
  expect(feed).toHaveLength(360);
  expect(new Set(feed.map((r) => r.record_id)).size).toBe(360);
  const saved = new Set(made.map((r) => r.revision_id));
  expect(asText(feed.filter((r) => saved.has(r.revision_id)))).toEqual(asText(made));

  // The new version is offered, waits for a yes, and has what was there before.
  const [first] = scouts as [Page, ...Page[]];
  await first.evaluate(async () => (await navigator.serviceWorker.getRegistration())?.update());
  const offer = first.getByRole('complementary', { name: 'New version' });
  const loaded = first.waitForEvent('load');
  await offer.getByRole('button', { name: 'Use it now' }).tap();
  await loaded;
  await expect(first.getByRole('link', { name: 'My records (60)' })).toBeVisible();
  rmSync(program);
});

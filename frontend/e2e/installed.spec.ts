/** The app on a tablet's home screen: it can be installed, is joined by a typed code, and several windows of it share one stream. */
import { expect, install, setUp, test } from './hall';
import { makeCodeByHand, makeEventByHand, ready, tablet } from './fixtures';

test('the app can be installed, joined by a typed code, and opened several times', async ({
  hall,
  home,
  open
}) => {
  const before = await open();
  await install(before, hall, home);
  await before.close();
  const browser = await open();
  const lead = await setUp(browser, hall);
  const path = await makeEventByHand(lead, 'Installed');
  const code = await makeCodeByHand(lead, path);

  const context = await browser.newContext({ ...tablet, baseURL: hall.url });
  const app = await context.newPage();
  const streams: string[] = [];
  context.on('request', (r) => {
    if (r.resourceType() === 'eventsource') streams.push(r.url());
  });

  // An installed app has a storage of its own and begins where its manifest says.
  const devtools = await context.newCDPSession(app);
  await app.goto('/');
  await ready(app);
  const { data, errors } = await devtools.send('Page.getAppManifest');
  expect(errors).toEqual([]);
  const manifest = JSON.parse(data ?? '') as {
    start_url: string;
    display: string;
    icons: { src: string; sizes: string }[];
  };
  expect(manifest.display).toBe('standalone');
  const { installabilityErrors } = await devtools.send('Page.getInstallabilityErrors');
  // This browser keeps nothing after the test, and installs nothing for that.
  expect(installabilityErrors.map((e) => e.errorId).filter((id) => id !== 'in-incognito')).toEqual([]);
  for (const icon of manifest.icons.filter((i) => i.sizes !== 'any')) {
    const size = await app.evaluate(async (src) => {
      const image = new Image();
      image.src = src;
      await image.decode();
      return `${image.naturalWidth}x${image.naturalHeight}`;
    }, icon.src);
    expect(size, icon.src).toBe(icon.sizes);
  }

  await app.goto(manifest.start_url);
  await app.getByRole('link', { name: 'Join an event' }).tap();
  await app.getByLabel('Code from your lead').fill(code);
  await app.getByLabel('Your nickname').fill('ann');
  await app.getByRole('button', { name: 'Join' }).tap();
  await expect(app.getByRole('link', { name: /41 / }).first()).toBeVisible();
  await expect.poll(() => streams.length).toBe(1);
  await app.goto(manifest.start_url); // opened again from the home screen
  await expect(app.getByRole('link', { name: /41 / }).first()).toBeVisible();

  // HTTP/1.1 allows six connections to a host: windows share one stream.
  await expect.poll(() => streams.length).toBe(2);
  const others = [await context.newPage(), await context.newPage()];
  for (const page of others) {
    await page.goto(`${path}/watch`);
    await expect(page.getByRole('link', { name: /41 / }).first()).toBeVisible();
    await expect(page.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
    const locks = await page.evaluate(async () => {
      const named = (all: LockInfo[] = []) => all.filter((l) => l.name?.startsWith('sextant-live-')).length;
      const { held, pending } = await navigator.locks.query();
      return [named(held), named(pending)];
    });
    expect(locks).toEqual([1, others.indexOf(page) + 1]);
  }
  expect(streams).toHaveLength(2);
  await app.close(); // the one that had it
  await expect.poll(() => streams.length).toBe(3);
});

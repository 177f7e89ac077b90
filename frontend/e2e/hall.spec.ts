/**
 * A laptop in a hall: tablets reach it by a name over TLS, with a certificate
 * authority that they installed. 127.0.0.1 would hide what goes wrong there:
 * browsers trust it without any certificate.
 */
import { chromium, test as base, type Browser, type Page } from '@playwright/test';
import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, joinEvent, laptop, makeCode, makeEvent, password, ready, Server, tablet } from './fixtures';

const name = 'hall.test';

const test = base.extend<{ hall: Server; home: string; open: () => Promise<Browser> }>({
  // eslint-disable-next-line no-empty-pattern -- Playwright reads what a fixture needs from this pattern
  hall: async ({}, use) => {
    const server = new Server(['--tls', '--name', name, '--http-port', '0']);
    await server.start();
    await use(server);
    await server.stop();
    server.remove();
  },
  /** The home of a device's user, with an empty list of authorities. */
  // eslint-disable-next-line no-empty-pattern -- as above
  home: async ({}, use) => {
    const home = mkdtempSync(join(tmpdir(), 'sextant-e2e-home-'));
    mkdirSync(join(home, '.pki', 'nssdb'), { recursive: true });
    execFileSync('certutil', ['-d', store(home), '-N', '--empty-password']);
    await use(home);
    rmSync(home, { recursive: true, force: true });
  },
  /** A browser of that user, in a network that knows the laptop's name. */
  open: async ({ home }, use, info) => {
    const browsers: Browser[] = [];
    const options = info.project.use.launchOptions ?? {};
    await use(async () => {
      const browser = await chromium.launch({
        ...options,
        args: [...(options.args ?? []), `--host-resolver-rules=MAP ${name} 127.0.0.1`],
        env: { ...(process.env as Record<string, string>), HOME: home }
      });
      browsers.push(browser);
      return browser;
    });
    for (const browser of browsers) await browser.close();
  }
});

const store = (home: string): string => `sql:${join(home, '.pki', 'nssdb')}`;

/** Fetches the certificate as the page says, and installs it for websites. */
async function install(browser: Browser, server: Server, home: string): Promise<void> {
  const page = await browser.newPage({ acceptDownloads: true });
  const explains = /at (http:\/\/\S+)$/m.exec(server.said)?.[1] ?? '';
  await page.goto(explains);
  await expect(page.getByRole('heading', { name: `Let this device trust ${name}` })).toBeVisible();
  const shown = (await page.locator('code').first().textContent()) ?? '';
  const printed = /one:\n\s*(\S+)\n\s*(\S+)\n/.exec(server.said);
  expect(shown).toBe(`${printed?.[1]}${printed?.[2]}`);
  const download = page.waitForEvent('download');
  await page.getByRole('link', { name: 'Get the file' }).click();
  const file = join(home, 'sextant-hall.crt');
  await (await download).saveAs(file);
  execFileSync('certutil', ['-d', store(home), '-A', '-t', 'C,,', '-n', 'hall', '-i', file]);
  await page.close();
}

async function refusal(browser: Browser, url: string): Promise<string> {
  const page = await browser.newPage();
  const said = await page.goto(url).then(
    () => 'opened',
    (error: unknown) => String(error)
  );
  await page.close();
  return said;
}

async function setUp(browser: Browser, server: Server): Promise<Page> {
  const lead = await (await browser.newContext({ ...laptop, baseURL: server.url })).newPage();
  await lead.goto(server.setUpLink);
  await lead.getByLabel('Name', { exact: true }).fill('lead');
  await lead.getByLabel('Password', { exact: true }).fill(password);
  await lead.getByLabel('Password once more').fill(password);
  await lead.getByRole('button', { name: 'Make the account' }).click();
  await lead.waitForURL((url) => /^\/(events|e\/)/.test(url.pathname));
  return lead;
}

test('a tablet that trusts the laptop works without it', async ({ hall, home, open }) => {
  expect(hall.url).toMatch(/^https:\/\/hall\.test:\d+$/);
  const before = await open();
  expect(await refusal(before, hall.url)).toContain('ERR_CERT_AUTHORITY_INVALID');
  await install(before, hall, home);
  await before.close();

  const browser = await open();
  const lead = await setUp(browser, hall);
  const path = await makeEvent(lead, 'Hall Trial');
  const code = await makeCode(lead, path);
  const trust = lead.getByRole('region', { name: 'Before a tablet joins' });
  await expect(trust).toContainText(/http:\/\/hall\.test:\d+/);
  await expect(trust).toContainText(/([0-9A-F]{2}:){31}[0-9A-F]{2}/);
  await lead.screenshot({ path: test.info().outputPath('codes.png'), fullPage: true });
  const context = await browser.newContext({ ...tablet, baseURL: hall.url });
  const scout = await context.newPage();
  await joinEvent(scout, code, 'ann');
  await expect(scout.getByRole('heading', { name: /^W1/ })).toBeVisible(); // the schedule has come
  expect(await scout.evaluate(() => [location.hostname, isSecureContext])).toEqual([name, true]);
  await ready(scout);

  // The laptop is gone, not only the network.
  await hall.stop();
  await scout.reload();
  await expect(scout.getByRole('heading', { name: /^W1/ })).toBeVisible();
  await scout.getByRole('link', { name: /41 / }).first().tap();
  await scout.getByRole('button', { name: 'Sluice opened' }).tap();
  await scout.getByRole('button', { name: 'Finish' }).tap();
  await scout.getByRole('button', { name: 'Save' }).tap();
  await expect(scout.getByText('1 record waits for a network')).toBeVisible();
  await scout.close();

  // It comes back with a new certificate under the same authority.
  await hall.start();
  const again = await context.newPage();
  await again.goto(`${path}/watch`);
  await again.getByRole('link', { name: /^My records/ }).tap();
  await expect(again.getByRole('row', { name: /W1.*41.*stored/ })).toBeVisible();
});

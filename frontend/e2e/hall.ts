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
import { expect, laptop, password, Server } from './fixtures';

export const name = 'hall.test';

export const test = base.extend<{ hall: Server; home: string; open: () => Promise<Browser> }>({
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
export async function install(browser: Browser, server: Server, home: string): Promise<void> {
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

export async function refusal(browser: Browser, url: string): Promise<string> {
  const page = await browser.newPage();
  const said = await page.goto(url).then(
    () => 'opened',
    (error: unknown) => String(error)
  );
  await page.close();
  return said;
}

export async function setUp(browser: Browser, server: Server): Promise<Page> {
  const lead = await (await browser.newContext({ ...laptop, baseURL: server.url })).newPage();
  await lead.goto(server.setUpLink);
  await lead.getByLabel('Name', { exact: true }).fill('lead');
  await lead.getByLabel('Password', { exact: true }).fill(password);
  await lead.getByLabel('Password once more').fill(password);
  await lead.getByRole('button', { name: 'Make the account' }).click();
  await lead.waitForURL((url) => /^\/(events|e\/)/.test(url.pathname));
  return lead;
}

export { expect };

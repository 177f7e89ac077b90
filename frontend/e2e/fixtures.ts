/** A real server with a data folder of its own, and the first steps of a weekend. */
import {
  test as base,
  expect,
  type Browser,
  type BrowserContext,
  type Locator,
  type Page
} from '@playwright/test';
import { spawn, type ChildProcess } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { once } from 'node:events';
import { chmodSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';

export const testdata = (path: string): string => readFileSync(resolve('../testdata', path), 'utf8');

export class Server {
  url = '';
  /** The link that makes the first account. */
  setUpLink = '';
  hasAccount = false;
  readonly data: string;
  /** The program that the next start runs. */
  binary = process.env.SEXTANT_E2E_BINARY;
  /** Everything that it printed since it started last. */
  said = '';
  #extra: string[];
  #child: ChildProcess | undefined;
  #log = '';

  /** extra: further arguments of `sextant serve`. */
  constructor(extra: string[] = []) {
    this.#extra = extra;
    this.data = mkdtempSync(join(tmpdir(), 'sextant-e2e-data-'));
    chmodSync(this.data, 0o755); // as root the database runs as another user
  }

  async start(): Promise<void> {
    const { binary } = this;
    if (!binary) throw new Error('e2e/build.ts has not run');
    const listen = this.url ? `127.0.0.1:${new URL(this.url).port}` : '127.0.0.1:0';
    const child = spawn(
      binary,
      [
        ...['serve', '--data', join(this.data, 'db'), '--listen', listen, '--metrics-listen', ''],
        ...this.#extra
      ],
      { cwd: resolve('..'), stdio: ['ignore', 'pipe', 'pipe'] }
    );
    this.#child = child;
    child.stderr.on('data', (chunk: Buffer) => (this.#log += chunk.toString()));
    await new Promise<void>((ready, fail) => {
      this.said = '';
      child.stdout.on('data', (chunk: Buffer) => {
        this.said += chunk.toString();
        this.setUpLink ||= /^\S+\/set-up#\S+$/m.exec(this.said)?.[0] ?? '';
        const at = /^Sextant is at (\S+)$/m.exec(this.said)?.[1];
        if (at) {
          this.url = at;
          ready();
        }
      });
      child.once('exit', (code) => fail(new Error(`the server ended with ${code}:\n${this.#log}`)));
    });
  }

  async stop(): Promise<void> {
    const child = this.#child;
    if (!child || child.exitCode !== null) return;
    child.removeAllListeners('exit');
    const ended = once(child, 'exit');
    child.kill('SIGTERM');
    await ended;
  }

  remove(): void {
    rmSync(this.data, { recursive: true, force: true });
  }
}

export const tablet = {
  viewport: { width: 1180, height: 820 },
  hasTouch: true,
  isMobile: true,
  timezoneId: 'Europe/Berlin'
};
export const laptop = { viewport: { width: 1440, height: 900 }, timezoneId: 'Europe/Berlin' };

export const test = base.extend<
  { lead: Page; device: (options: object) => Promise<Page> },
  { server: Server }
>({
  server: [
    // eslint-disable-next-line no-empty-pattern -- Playwright reads what a fixture needs from this pattern
    async ({}, use) => {
      const server = new Server();
      await server.start();
      await use(server);
      await server.stop();
      server.remove();
    },
    { scope: 'worker' }
  ],
  /** A browser context of its own: another device. */
  device: async ({ browser, server }, use) => {
    const contexts: BrowserContext[] = [];
    await use(async (options) => {
      const context = await newContext(browser, server, options);
      contexts.push(context);
      return context.newPage();
    });
    for (const context of contexts) await context.close();
  },
  /** The lead, signed in; the first time with the link that the server prints. */
  lead: async ({ device, server }, use) => {
    const page = await device(laptop);
    if (!server.hasAccount) {
      await page.goto(server.setUpLink);
      await page.getByLabel('Name', { exact: true }).fill('lead');
      await page.getByLabel('Password', { exact: true }).fill(password);
      await page.getByLabel('Password once more').fill(password);
      await page.getByRole('button', { name: 'Make the account' }).click();
      server.hasAccount = true;
    } else {
      // The link works once: later tests of this worker sign in.
      const answer = await page.request.post('/api/session', { data: { name: 'lead', password } });
      expect(answer.status(), await answer.text()).toBe(201);
      await page.goto('/events');
    }
    await page.waitForURL(inside);
    await use(page);
  }
});

export const password = 'grist and stone 7';
const inside = (url: URL): boolean => /^\/(events|e\/)/.test(url.pathname);

/** The lead's account on another device. */
export async function signIn(page: Page): Promise<void> {
  await page.goto('/sign-in');
  await page.getByLabel('Name').fill('lead');
  await page.getByLabel('Password').fill(password);
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.waitForURL(inside);
}

function newContext(browser: Browser, server: Server, options: object): Promise<BrowserContext> {
  return browser.newContext({ baseURL: server.url, ...options });
}

/** An event's part of the API. */
export const apiOf = (path: string): string => `/api${path.replace('/e/', '/events/')}`;

interface NewEvent {
  name: string;
  /** A file of testdata/games. */
  game: string;
  our_team?: string;
}

/** Makes an event over the API, without teams and matches, and returns its path. */
export async function bareEvent(lead: Page, { game, ...rest }: NewEvent): Promise<string> {
  const data = { zone: 'Europe/Berlin', game: JSON.parse(testdata(`games/${game}`)) as object, ...rest };
  const made = await lead.request.post('/api/events', { data });
  expect(made.status(), await made.text()).toBe(201);
  return `/e/${((await made.json()) as { event_id: string }).event_id}`;
}

/** Takes a table over, over the API: a file's text, or lines of CSV. */
export async function takeTable(
  lead: Page,
  path: string,
  table: string,
  csv: string | string[]
): Promise<void> {
  const answer = await lead.request.post(`${apiOf(path)}/import?table=${table}`, {
    headers: { 'content-type': 'text/csv' },
    data: typeof csv === 'string' ? csv : [...csv, ''].join('\n')
  });
  expect(answer.ok(), await answer.text()).toBe(true);
}

/** Makes an event from files that are not the demo's, over the API. Returns its path. */
export async function makeEvent(lead: Page, name: string): Promise<string> {
  const path = await bareEvent(lead, { name, game: 'millrace.json', our_team: '905' });
  await takeTable(lead, path, 'teams', testdata('events/millrace/teams.csv'));
  await takeTable(lead, path, 'matches', testdata('events/millrace/matches.csv'));
  return path;
}

/** Makes the same event as a lead does; who does so ends on its set-up. */
export async function makeEventByHand(lead: Page, name: string): Promise<string> {
  await lead.goto('/events/new');
  await lead.getByLabel('Name', { exact: true }).fill(name);
  await lead.getByLabel('Time zone of the venue').fill('Europe/Berlin');
  await lead.getByLabel('Our team').fill('905');
  await lead.getByLabel('Game file, as text').fill(testdata('games/millrace.json'));
  await expect(lead.getByText('Millrace, version 2: 5 actions in 2 periods.')).toBeVisible();
  await lead.getByRole('button', { name: 'Make the event' }).click();
  await lead.waitForURL('**/set-up');
  const path = new URL(lead.url()).pathname.replace('/set-up', '');
  await importTable(lead, `${path}/set-up?part=teams`, 'Team list', 'events/millrace/teams.csv');
  await importTable(lead, `${path}/set-up?part=schedule`, 'Schedule', 'events/millrace/matches.csv');
  return path;
}

/** Takes over a table: a file of testdata, or lines of CSV. */
export async function importTable(
  lead: Page,
  path: string,
  label: string,
  table: string | string[]
): Promise<void> {
  await lead.goto(path);
  const box = lead.getByRole('group', { name: label });
  const file =
    typeof table === 'string'
      ? resolve('../testdata', table)
      : { name: 'table.csv', mimeType: 'text/csv', buffer: Buffer.from([...table, ''].join('\n')) };
  await box.locator('input[type=file]').setInputFiles(file);
  await lead.getByRole('button', { name: 'Take it over' }).click();
  await expect(lead.getByText(/^Taken over: /)).toBeVisible();
}

/** Makes a join code over the API and returns it. */
export async function makeCode(lead: Page, path: string, role: 'scout' | 'coach' = 'scout'): Promise<string> {
  const made = await lead.request.post(`${apiOf(path)}/codes`, { data: { role, hours: 12 } });
  expect(made.status(), await made.text()).toBe(201);
  return ((await made.json()) as { code: string }).code;
}

/** Makes a join code as a lead does. */
export async function makeCodeByHand(
  lead: Page,
  path: string,
  role: 'scout' | 'coach' = 'scout'
): Promise<string> {
  await lead.goto(`${path}/set-up?part=codes`);
  await lead.getByRole('combobox', { name: 'For', exact: true }).selectOption(role);
  await lead.getByRole('button', { name: 'Make a code' }).click();
  const code = await lead.getByRole('region', { name: 'The new code' }).locator('.code').textContent();
  return code?.trim() ?? '';
}

/** Asks scouts something about a robot; their tablets hear of it as of anything that a lead enters. */
export async function ask(lead: Page, path: string, text: string, team: string): Promise<void> {
  const id = randomUUID();
  const item = {
    revision_id: `018f3c2e-7b1a-7${id.slice(15)}`, // of version 7, as each revision's
    record_id: id,
    parents: [],
    kind: 'question',
    lamport: 1,
    made_at: new Date().toISOString(),
    body: { text, team, asked_of: 'scouts' }
  };
  const answer = await lead.request.post(`${apiOf(path)}/sync`, {
    data: { protocol: 1, device: 'test', items: [item] }
  });
  expect(await answer.json()).toMatchObject({ items: [{ outcome: 'stored' }] });
}

/** Joins by typed code; a scout then sees /watch, a coach the event. */
export async function joinEvent(page: Page, code: string, nickname: string, to = '**/watch'): Promise<void> {
  await page.goto('/join');
  await page.getByLabel('Code from your lead').fill(code);
  await page.getByLabel('Your nickname').fill(nickname);
  await page.getByRole('button', { name: 'Join' }).click();
  await page.waitForURL(to);
}

/** A robot's points, as the robots table shows them. */
export const points = async (page: Page, team: string): Promise<number> =>
  Number(
    await page
      .locator('tr', { has: page.locator(`a[data-team="${team}"]`) })
      .locator('.points b')
      .textContent()
  );

/** Makes a pick list of all robots but ours, best first. */
export async function makeList(lead: Page, path: string, name: string): Promise<void> {
  await lead.goto(`${path}/lists`);
  await lead.getByLabel('Name').fill(name);
  await lead.getByRole('button', { name: 'Make the list' }).click();
  await lead.getByRole('button', { name: 'Fill by what to expect next' }).click();
  await expect(lead.locator('[data-row]')).toHaveCount(7);
}

/** The teams of a pick list, from top to bottom. */
export const listed = (page: Page): Promise<(string | undefined)[]> =>
  page.locator('[data-row]').evaluateAll((all) => all.map((a) => a.dataset.row));

/** The row of a robot in a pick list. */
export const rowOf = (page: Page, team: string | undefined): Locator => page.locator(`[data-row="${team}"]`);

/** Saves a pick list as CSV: the file's name and its lines. */
export async function exportList(page: Page): Promise<{ name: string; lines: string[] }> {
  const [file] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: 'Save as CSV' }).click()
  ]);
  return { name: file.suggestedFilename(), lines: readFileSync(await file.path(), 'utf8').split('\r\n') };
}

/** Waits until the app can start without a network. */
export async function ready(page: Page): Promise<void> {
  await page.evaluate(async () => {
    await navigator.serviceWorker.ready;
    if (!navigator.serviceWorker.controller) {
      await new Promise((taken) =>
        navigator.serviceWorker.addEventListener('controllerchange', taken, { once: true })
      );
    }
  });
}

export { expect };

/**
 * Days without a network: six scouts and twelve matches come home by network,
 * codes and file, each record once and as it was tapped; and a hall without any
 * radio, where the schedule reaches six tablets by codes.
 */
import { rmSync } from 'node:fs';
import type { Browser, Page } from '@playwright/test';
import { browserWith, codeOf, codesOf, film } from './fake-camera';
import {
  apiOf,
  ask,
  bareEvent,
  expect,
  importTable,
  joinEvent,
  laptop,
  makeCode,
  ready,
  signIn,
  tablet,
  takeTable,
  test as base
} from './fixtures';
import { allSent, asText, feedOf, record, textOf, waitingOn } from './recorder';
import { teamList } from './scout-event';

const NAMES = ['ann', 'bo', 'cy', 'di', 'ed', 'flo'];
const teamsOf = (n: number): string[] => Array.from({ length: n }, (_, i) => String(40101 + i));

/** Who plays in each match, red 1 to blue 3. */
const lineUps = (teams: string[], matches: number): string[][] =>
  Array.from({ length: matches }, (_, m) =>
    Array.from({ length: 6 }, (_, k) => teams[(m * 5 + k * [1, 5, 7][m % 3]!) % teams.length]!)
  );

/** The schedule as CSV: every eight minutes, the first in twenty. */
function schedule(plan: string[][]): string[] {
  const start = Date.now() + 20 * 60_000;
  return [
    'match,starts_at,alliance,teams',
    ...plan.flatMap((teams, i) => {
      const at = new Date(start + i * 8 * 60_000).toISOString();
      return [
        `Q${i + 1},${at},red,${teams.slice(0, 3).join(' ')}`,
        `Q${i + 1},${at},blue,${teams.slice(3).join(' ')}`
      ];
    })
  ];
}

const test = base.extend<{ hall: { browser: Browser; show: (codes: boolean[][][]) => void } }>({
  /** The devices of the stands: what is shown to one of them is shown to each that looks. */
  // eslint-disable-next-line no-empty-pattern -- Playwright reads what a fixture needs from this pattern
  hall: async ({}, use, info) => {
    const file = info.outputPath('codes.y4m');
    const { executablePath, args } = info.project.use.launchOptions ?? {};
    const browser = await browserWith(file, { executablePath, args });
    await use({ browser, show: (codes) => film(file, codes) });
    await browser.close();
    rmSync(file, { force: true }); // a film is large
  }
});

const everyone = <T>(pages: Page[], work: (page: Page, i: number) => Promise<T>): Promise<T[]> =>
  Promise.all(pages.map(work));

/** Six tablets that have joined, know the event, and have lost the network. */
async function tabletsOf(browser: Browser, url: string, code: string): Promise<Page[]> {
  const pages: Page[] = [];
  for (const name of NAMES) {
    const page = await (await browser.newContext({ ...tablet, baseURL: url })).newPage();
    await joinEvent(page, code, name);
    pages.push(page);
  }
  await everyone(pages, async (page) => {
    await expect(page.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
    await ready(page);
    await page.context().setOffline(true);
  });
  return pages;
}

/** Watches the robot that the tablet offers: a few taps, and saved. */
async function watch(page: Page, match: string, team: string): Promise<void> {
  await page.getByRole('link', { name: 'Watch this robot' }).tap();
  await page.getByRole('button', { name: 'Casts off' }).tap();
  const deck = page.getByRole('button', { name: /^Barrel on deck made/ });
  await deck.tap();
  await deck.tap();
  await page.getByRole('button', { name: 'Save', exact: true }).tap();
  await expect(page.getByText(`Saved: ${match}, ${team}.`)).toBeVisible();
}

/** Goes to the screen that hands over, takes in and gives out. */
async function carry(page: Page, path: string, part: 'Hand over' | 'Take in' | 'Give out'): Promise<void> {
  if (!page.url().includes('/carry')) await page.goto(`${path}/carry`);
  await page.getByRole('link', { name: part, exact: true }).click();
}

/** The codes of what waits on a tablet. */
async function handOver(page: Page, path: string, button = 'Show the codes'): Promise<boolean[][][]> {
  await carry(page, path, 'Hand over');
  await page.getByRole('button', { name: button }).tap();
  return codesOf(page);
}

/** Looks with the camera until the page says something. */
async function look(page: Page, path: string, said: string): Promise<void> {
  await carry(page, path, 'Take in');
  await page.getByRole('button', { name: 'Start the camera' }).click();
  await expect(page.getByText(said, { exact: false })).toBeVisible({ timeout: 120_000 }); // several rounds of many codes
  await page.getByRole('button', { name: 'Stop the camera' }).click();
}

test('twelve matches of six scouts come home on three ways, each record once', async ({
  lead,
  hall,
  server
}) => {
  test.slow(); // eight devices on one machine
  const path = await bareEvent(lead, { name: 'Twelve matches', game: 'slackwater.json' });
  const teams = teamsOf(12);
  await takeTable(lead, path, 'teams', teamList(teams));
  const plan = lineUps(teams, 12);
  await takeTable(lead, path, 'matches', schedule(plan));
  const scouts = await tabletsOf(hall.browser, server.url, await makeCode(lead, path));
  const [, , , di, ed, flo] = scouts as [Page, Page, Page, Page, Page, Page];
  const carrier = await (await hall.browser.newContext({ ...laptop, baseURL: server.url })).newPage();
  await signIn(carrier);
  await carrier.goto(`${path}/carry`);
  await ready(carrier);
  await expect(carrier.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await carrier.context().setOffline(true);

  // Each watches one seat; the first four matches by taps.
  await everyone(scouts, async (scout, i) => {
    await scout.getByRole('group', { name: 'The robot that you watch' }).getByRole('button').nth(i).tap();
    for (let m = 0; m < 4; m++) await watch(scout, `Q${m + 1}`, plan[m]![i]!);
  });

  // Q5 gets another robot at ed's seat and starts later, and something is asked about it.
  const other = teams.find((team) => !plan[4]!.includes(team))!;
  plan[4] = plan[4]!.with(4, other);
  const late = new Date(Date.now() + 100 * 60_000);
  const rows = schedule(plan).map((row) =>
    row.startsWith('Q5,') ? row.replace(/,[^,]*/, `,${late.toISOString()}`) : row
  );
  await takeTable(lead, path, 'matches', rows);
  await ask(lead, path, 'Does its crane still turn?', other);
  await lead.goto(`${path}/carry?part=give-out`);
  await expect(lead.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await lead.getByRole('button', { name: 'Show the codes' }).click();
  hall.show(await codesOf(lead));
  await look(ed, path, 'From lead: taken over.');
  await ed.goto(`${path}/watch`);
  const heading = ed.getByRole('heading', { name: /^Q5/ });
  await expect(heading).toContainText(
    late.toLocaleTimeString('en-GB', { timeZone: 'Europe/Berlin', hour: '2-digit', minute: '2-digit' })
  );
  await expect(ed.getByText('Does its crane still turn?')).toBeVisible();
  await watch(ed, 'Q5', other);
  await ed.getByRole('button', { name: 'Yes', exact: true }).tap();
  await expect(ed.getByText('Answered: yes.')).toBeVisible();

  // The rest by the app's own save. What each tablet has now is what has to arrive.
  const kept = await everyone(scouts, async (scout, i) => {
    const first = scout === ed ? 5 : 4;
    const rest = plan.slice(first).map((robots, m) => [`Q${first + m + 1}`, robots[i]!] as const);
    await record(scout, path, rest);
    return waitingOn(scout);
  });
  const made = kept.flat();
  expect(made).toHaveLength(73); // ed's answer is a second version
  expect(new Set(made.map((r) => r.record_id)).size).toBe(72);
  const byTaps = made.filter((r) => r.body.note === undefined);
  expect(byTaps).toHaveLength(26);
  for (const { body } of byTaps)
    expect(body).toMatchObject({
      counts: { cast_off: { made: 1 } },
      taps: Array(3).fill([expect.any(Number), expect.any(String), 1])
    });

  // Three find a network.
  await everyone(scouts.slice(0, 3), async (scout) => {
    await scout.context().setOffline(false);
    await allSent(scout);
  });

  // Two are filmed by a lead's device that has none itself; the receipt comes back typed or by its code.
  hall.show(await handOver(di, path));
  await look(carrier, path, 'From di: 12 versions of records taken in.');
  const letters = carrier.locator('.letters').first();
  await di.getByLabel('Receipt on the lead’s screen').fill((await letters.textContent()) ?? '');
  await di.getByRole('button', { name: 'Check' }).tap();
  await expect(di.getByText('The lead has 12 versions of your records', { exact: false })).toBeVisible();
  hall.show(await handOver(ed, path));
  await look(carrier, path, 'From ed: 13 versions of records taken in.');
  await ed.getByRole('button', { name: 'Stop showing' }).tap();
  hall.show([await codeOf(carrier.getByRole('img', { name: 'Receipt' }).first())]);
  await look(ed, path, 'The lead has 13 versions of your records');

  // Shown once more after the receipt, it changes nothing.
  hall.show(await handOver(di, path, 'Show again what was handed over, too'));
  await look(carrier, path, 'From di: all 12 versions are here already.');
  await di.getByRole('button', { name: 'Stop showing' }).tap();

  // One comes as a file, and again by network after the lead's device has found one.
  await carry(flo, path, 'Hand over');
  await flo.getByRole('button', { name: 'Show the codes' }).tap();
  const saving = flo.waitForEvent('download');
  await flo.getByRole('button', { name: 'Save as a file' }).tap();
  await carrier.getByLabel('A file that another device saved').setInputFiles(await (await saving).path());
  await expect(
    carrier.getByText('From flo: 12 versions of records taken in.', { exact: false })
  ).toBeVisible();
  await expect(carrier.getByText('36 records wait for a network')).toBeVisible();
  await carrier.context().setOffline(false);
  await allSent(carrier);
  for (const scout of [flo, di]) {
    await scout.context().setOffline(false);
    await allSent(scout);
  }

  // Each record is there once, to the byte, and its author is who tapped it; ed never met a network.
  const arrived = async () => asText(await feedOf(lead, path));
  expect(await arrived()).toEqual(asText(made));
  const answer = JSON.parse(await textOf(lead, `${apiOf(path)}/records?kind=observation`)) as {
    records: { record_id: string; conflict: boolean; body: { scout: string } }[];
  };
  expect(answer.records).toHaveLength(72);
  expect(answer.records.filter((r) => r.conflict)).toEqual([]);
  const perScout = NAMES.map((name) => answer.records.filter((r) => r.body.scout === name).length);
  expect(perScout).toEqual([12, 12, 12, 12, 12, 12]);
  expect(NAMES.map((name) => made.filter((r) => r.author === name).length)).toEqual([12, 12, 12, 12, 13, 12]);
  await ed.context().setOffline(false);
  await allSent(ed);
  expect(await arrived()).toEqual(asText(made));
});

test('a hall without any radio: schedule and rota reach six tablets by codes', async ({
  lead,
  hall,
  server
}) => {
  test.slow(); // as above
  // The day before, with a network: the game is known, the schedule is not.
  const path = await bareEvent(lead, { name: 'No radio', game: 'slackwater.json' });
  const code = await makeCode(lead, path);
  const tablets = await tabletsOf(hall.browser, server.url, code);
  await everyone(tablets, (page) =>
    expect(page.getByText('There is no schedule on this device.', { exact: false })).toBeVisible()
  );

  // Who did not join then cannot now, and is told.
  const late = await (await hall.browser.newContext({ ...tablet, baseURL: server.url })).newPage();
  await late.goto('/join');
  await ready(late);
  await late.context().setOffline(true);
  await late.reload();
  await late.getByLabel('Code from your lead').fill(code);
  await late.getByLabel('Your nickname').fill('gus');
  await late.getByRole('button', { name: 'Join' }).tap();
  await expect(late.getByRole('alert')).toContainText('A device joins once where it reaches the server');

  // In the hall the server runs on the lead's laptop, which reaches nobody else.
  const began = performance.now();
  const teams = teamsOf(48);
  const plan = lineUps(teams, 80);
  await importTable(lead, `${path}/set-up?part=teams`, 'Team list', teamList(teams));
  await importTable(lead, `${path}/set-up?part=schedule`, 'Schedule', schedule(plan));
  await lead.goto(`${path}/rota`);
  for (const name of NAMES) await lead.getByRole('button', { name: `+ ${name}`, exact: true }).click();
  await lead.getByRole('button', { name: 'Plan from Q1 on' }).click();
  await lead.getByRole('button', { name: 'Put it in force' }).click({ timeout: 60_000 });
  await expect(lead.getByText(/^In force: \d+ seats changed\./)).toBeVisible();
  await carry(lead, path, 'Give out');
  await lead.getByRole('button', { name: 'Show the codes' }).click();
  const shown = performance.now();
  const codes = await codesOf(lead);
  hall.show(codes);

  // All six are held before the laptop's screen.
  const taken = performance.now();
  await everyone(tablets, async (page) => {
    await look(page, path, 'From lead: taken over.');
    await page.goto(`${path}/watch`);
  });
  const sent = await everyone(tablets, async (page) => {
    const line = page.getByText(/^The rota sends you to \d+ in Q1\.$/);
    await expect(line).toBeVisible();
    return /to (\d+)/.exec((await line.textContent()) ?? '')?.[1];
  });
  expect(sent.toSorted()).toEqual(plan[0]!.toSorted());
  const s = (ms: number) => `${(ms / 1000).toFixed(0)} s`;
  console.log(
    `the lead's work by script ${s(shown - began)}; ${codes.length} codes; six tablets ${s(performance.now() - taken)} after`
  );
});

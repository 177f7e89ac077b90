import type { Page } from '@playwright/test';
import { check } from './axe';
import { apiOf, bareEvent, expect, joinEvent, laptop, makeCode, ready, takeTable, test } from './fixtures';

const numbers = Array.from({ length: 30 }, (_, i) => String(40201 + i));
const our = '40203';

/** Matches in which the lower number is always the stronger robot; everybody plays six. */
function schedule(): string[] {
  const lines = ['match,starts_at,alliance,teams,score'];
  let n = 0;
  for (let round = 0; round < 6; round++) {
    // A stride that shares no factor with 30 mixes partners anew each round.
    const order = numbers.map((_, i) => numbers[(i * [1, 7, 11, 13, 17, 19][round]! + round) % 30]!);
    for (let i = 0; i < 30; i += 6) {
      n++;
      const at = new Date(Date.UTC(2031, 4, 17, 8, 6 * n)).toISOString();
      for (const [colour, robots] of [
        ['red', order.slice(i, i + 3)],
        ['blue', order.slice(i + 3, i + 6)]
      ] as const) {
        const score = robots.reduce((sum, t) => sum + 4 + 2 * (40231 - Number(t)), 0);
        lines.push(`Q${n},${at},${colour},${robots.join(' ')},${score}`);
      }
    }
  }
  return lines;
}

/** An event of 30 invented teams, all matches played. Returns its path. */
async function makeEvent(lead: Page, name: string): Promise<string> {
  const path = await bareEvent(lead, { name, game: 'slackwater.json', our_team: our });
  await takeTable(lead, path, 'teams', ['team,name', ...numbers.map((t) => `${t},Invented ${t}`)]);
  await takeTable(lead, path, 'matches', schedule());
  return path;
}

/** The alliances on the screen, a line each. */
const board = (page: Page): Promise<string[]> =>
  page
    .getByRole('list', { name: 'Alliances' })
    .getByRole('listitem')
    .evaluateAll((all) =>
      all.map((li) => [...li.querySelectorAll('b, .here')].map((x) => x.textContent?.trim()).join(' '))
    );

const field = (page: Page) => page.getByRole('textbox', { name: 'Team that is invited' });

/** Types a team and how the invitation ended, and waits until the board has it. */
async function invite(page: Page, team: string, key: string): Promise<void> {
  await field(page).focus();
  await page.keyboard.type(team);
  await page.keyboard.press(key);
  // After the last pick there is no field any more.
  await expect
    .poll(() => field(page).evaluateAll((all) => all.map((e) => (e as HTMLInputElement).value).join('')))
    .toBe('');
}

test('a whole selection on two devices, one without a network for half of it', async ({ lead, device }) => {
  test.setTimeout(240_000);
  const path = await makeEvent(lead, 'Selection Trial');
  await lead.goto(`${path}/set-up?part=codes`);
  await lead.getByRole('combobox', { name: 'For', exact: true }).selectOption('lead');
  await lead.getByRole('button', { name: 'Make a code' }).click();
  const code = (await lead
    .getByRole('region', { name: 'The new code' })
    .locator('.code')
    .textContent())!.trim();
  const second = await device(laptop);
  await joinEvent(second, code, 'kim', '**/e/**');

  await lead.goto(`${path}/selection`);
  await second.goto(`${path}/selection`);
  await expect.poll(async () => (await board(lead)).length).toBe(8);
  const start = await board(lead);
  await expect.poll(() => board(second)).toEqual(start);
  const [c1, , c3, c4] = start as [string, string, string, string];
  // Advice is there, with its reason and both neighbours.
  const advice = lead.getByRole('region', { name: 'Advice', exact: true });
  await expect(advice.getByRole('img')).toHaveCount(3);
  await expect(advice.getByText(/plausible worlds/)).toBeVisible();
  await check(lead, 'the board');

  // A decline and a promotion: captain 3 is picked by captain 1, all others move up.
  await invite(lead, c4, 'd');
  await invite(lead, c3, 'Enter');
  await expect.poll(async () => (await board(second))[0]).toBe(`${c1} ${c3}`);
  expect((await board(lead)).slice(1, 4)).toEqual([start[1], c4, start[4]]);

  // Who said no is refused in words, also by its last digits, and nothing changes.
  const before = await board(lead);
  await field(lead).fill(c4);
  await expect(
    lead.getByText(`${c4} cannot be invited: declined before: may not be invited again.`)
  ).toBeVisible();
  await lead.keyboard.press('Enter');
  expect(await board(lead)).toEqual(before);
  await field(lead).fill('');

  // A move taken back comes back on both.
  const free = (await lead.locator('.left li button').allTextContents()).map((t) => t.trim().split(/\s/)[0]!);
  await invite(lead, free.at(-1)!, 'Enter');
  await expect.poll(async () => (await board(second))[1]).toContain(free.at(-1)!);
  await lead.keyboard.press('Escape');
  await lead.keyboard.press('z');
  await expect.poll(() => board(second)).toEqual(before);

  // The second device loses the network: it says so, works the advice out itself and goes on.
  await ready(second);
  await expect
    .poll(() => second.evaluate(async () => (await caches.match('/wasm/worth.wasm.gz')) !== undefined))
    .toBe(true);
  await second.context().setOffline(true);
  await second.reload();
  const onClock = async (page: Page) =>
    (await page.getByRole('list', { name: 'Alliances' }).locator('li[aria-current] b').textContent())!.trim();
  const script: [string, string][] = [];
  const taken = new Set((await board(lead)).join(' ').split(' '));
  const rest = numbers.filter((t) => !taken.has(t));
  // The second decline, by a robot that is no captain; then all of the first round.
  script.push([rest[0]!, 'd']);
  for (let k = 1; k <= 7; k++) script.push([rest[k]!, 'Enter']);
  for (const [team, key] of script) {
    await invite(lead, team, key);
    await invite(second, team, key);
  }
  await expect(second.getByText('No answer from the server. Worked out on this device.')).toBeVisible();
  // The same board has the same worths and intervals, from the server and from the worker.
  const bars = (page: Page) =>
    page
      .getByRole('region', { name: 'Advice', exact: true })
      .getByRole('img')
      .evaluateAll((all) => all.map((e) => e.getAttribute('aria-label')));
  await expect(async () => expect(await bars(second)).toEqual(await bars(lead))).toPass();
  expect(new Set(await bars(second)).size).toBe(3);
  // Only the second device hears the first call of round 2.
  expect(await onClock(second)).toBe(await onClock(lead));
  await invite(second, rest[8]!, 'Enter');
  expect(await board(second)).not.toEqual(await board(lead));
  await second.reload();
  await expect(lead.getByRole('heading', { name: 'Selection, round 2' })).toBeVisible();
  await expect(second.getByRole('heading', { name: 'Selection, round 2' })).toBeVisible();

  // Back: both come to the same board, and what was written twice counts once.
  await second.context().setOffline(false);
  await expect.poll(() => board(lead)).toEqual(await board(second));
  await expect(lead.getByRole('region', { name: 'Moves that do not count' })).toHaveCount(0);
  for (let k = 9; k <= 15; k++) await invite(lead, rest[k]!, 'Enter');
  await expect(lead.getByText('All picks are made.')).toBeVisible();
  await expect(second.getByText('All picks are made.')).toBeVisible();
  const end = await board(lead);
  expect(end.every((line) => line.split(' ').length === 3)).toBe(true);
  expect(new Set(end.join(' ').split(' ')).size).toBe(24);
  expect(await board(second)).toEqual(end);

  // The server says the same: its playoff is of these alliances.
  const answer = await lead.request.get(`${apiOf(path)}/bracket`);
  const { alliances } = (await answer.json()) as { alliances: { alliance: number; win: number }[] };
  expect(alliances).toHaveLength(8);

  // Back to any point: the whole of round 2 at once.
  await lead.getByText(/^Moves \(/).click();
  await lead
    .getByRole('button', { name: `Back to before: ${end[7]!.split(' ')[0]} takes ${rest[8]}` })
    .click();
  await expect(second.getByRole('heading', { name: 'Selection, round 2' })).toBeVisible();
  await expect.poll(() => board(lead)).toEqual(await board(second));
});

test('a rehearsal, what we heard, the number to hold up, the sheet; and the coach', async ({
  lead,
  device
}) => {
  const path = await makeEvent(lead, 'Rehearsal Trial');
  const code = await makeCode(lead, path, 'coach');
  await lead.goto(`${path}/selection`);
  await expect.poll(async () => (await board(lead)).length).toBe(8);
  const start = await board(lead);
  await expect(lead.getByRole('region', { name: 'Advice', exact: true }).getByRole('img')).toHaveCount(3);

  // Invited by a captain above us: both futures.
  await expect(lead.getByRole('region', { name: 'If we are invited' })).toContainText('Who says no');

  // What we heard warns before a call, and is counted on.
  await lead.getByText('What we heard').click();
  await lead.getByRole('textbox', { name: 'Captain' }).fill(start[0]!);
  await lead.getByRole('combobox', { name: 'What we heard' }).selectOption('agreed');
  await lead.getByRole('textbox', { name: 'Team', exact: true }).fill('40210');
  await lead.getByRole('button', { name: 'Note it' }).click();
  await expect(lead.locator('.left li', { hasText: '40210' })).toContainText('agreed');

  // The others choose until it is our turn; nothing of it reaches the records.
  await lead.getByRole('button', { name: 'Rehearse' }).click();
  await lead.getByRole('button', { name: 'Let the others choose' }).click();
  await expect(lead.getByText('Rehearsal.')).toBeVisible();
  const rehearsed = await board(lead);
  expect(rehearsed).not.toEqual(start);
  expect(rehearsed[0]).toBe(`${start[0]} 40210`);
  await lead.getByRole('button', { name: 'End it' }).click();
  expect(await board(lead)).toEqual(start);

  // One that is kept: our call beside the recommended one.
  await lead.getByRole('button', { name: 'Rehearse' }).click();
  for (let k = 0; k < start.indexOf(our); k++) await invite(lead, numbers.at(-1 - k)!, 'Enter');
  await expect(lead.getByText('Best call now')).toBeVisible();
  await invite(lead, '40220', 'Enter');
  await lead.getByRole('textbox', { name: 'Name of the rehearsal' }).fill('Far down');
  await lead.getByRole('button', { name: 'Keep it' }).click();
  await expect(lead.getByText('Kept as “Far down”.')).toBeVisible();
  await lead.getByRole('button', { name: 'End it' }).click();
  expect(await board(lead)).toEqual(start);
  await lead.getByText('Rehearsals (1)').click();
  await expect(lead.getByText(`Ours: ${our}, 40220.`)).toBeVisible();
  await expect(
    lead.getByText(/^Called 40220, [\d.]+ %; recommended 40\d+, [\d.]+ %; difference/)
  ).toBeVisible();
  const feed = await lead.request.get(`${apiOf(path)}/sync?after=0&limit=500`);
  expect(await feed.text()).not.toContain('"selection"');

  // Held up: as wide as the screen.
  await field(lead).fill('40222');
  await lead.keyboard.press('h');
  const number = lead.getByRole('dialog').getByRole('button');
  const width = await number.evaluate((e) => {
    const range = document.createRange();
    range.selectNodeContents(e);
    return range.getBoundingClientRect().width / innerWidth;
  });
  expect(width).toBeGreaterThan(0.85);
  expect(width).toBeLessThan(1);
  await lead.keyboard.press('Escape');
  await expect(lead.getByRole('dialog')).toHaveCount(0);

  // On paper: dated, one page, black on white.
  await lead.emulateMedia({ media: 'print', colorScheme: 'dark' });
  await expect(lead.getByText(/^Printed .*, after 0 moves, data state \d+\./)).toBeVisible();
  await expect(lead.getByRole('button', { name: 'Call sheet' })).toBeHidden();
  const sheet = await lead.pdf({ format: 'A4' });
  expect(sheet.toString('latin1').match(/\/Type\s*\/Page\b/g)).toHaveLength(1);

  // A move, for the coach to see, and the time for a call, which runs from it.
  await lead.emulateMedia({ media: 'screen' });
  const changed = await lead.request.patch(apiOf(path), {
    data: { overrides: { selection: { alliances: 8, picks: 2, order: 'serpentine', seconds: 45 } } },
    headers: { Origin: new URL(lead.url()).origin }
  });
  expect(changed.status()).toBe(200);
  await expect(lead.getByRole('timer')).toHaveText('0:45');
  await field(lead).fill('');
  await invite(lead, '40212', 'Enter');
  await expect(lead.getByRole('timer')).toHaveText(/^0:(4[0-4]|3\d)$/);
  const moved = await board(lead);

  // The coach sees the board and cannot write; a rehearsal is open to all.
  const coach = await device({ viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
  await joinEvent(coach, code, 'cora', '**/e/**');
  await coach.goto(`${path}/selection`);
  await expect.poll(() => board(coach)).toEqual(moved);
  await expect(coach.getByText('What we heard (1)')).toBeVisible();
  await expect(coach.getByText('Rehearsals (1)')).toBeVisible();
  // Nothing to type: the number that is tapped, else the best call, can be held up.
  await expect(field(coach)).toHaveCount(0);
  await coach.locator('.left li button').first().tap();
  const first = (await coach.locator('.left li button').first().textContent())!.trim().split(/\s/)[0]!;
  await coach.getByRole('button', { name: `Hold up ${first}` }).tap();
  await coach
    .getByRole('dialog')
    .getByRole('button', { name: `${first}. Close` })
    .tap();
  await expect(coach.getByRole('dialog')).toHaveCount(0);
  await coach.keyboard.press('z');
  await expect(coach.getByText('Everything is stored')).toBeVisible();
  expect(await board(coach)).toEqual(moved);
  await check(coach, 'the board on a phone');
  await coach.getByRole('button', { name: 'Rehearse' }).tap();
  await expect(field(coach)).toBeEnabled();
});

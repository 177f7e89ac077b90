import type { Page } from '@playwright/test';
import {
  apiOf,
  expect,
  exportList,
  joinEvent,
  laptop,
  listed,
  makeCode,
  makeEvent,
  makeList,
  points,
  ready,
  rowOf as row,
  test
} from './fixtures';

/** The team numbers of the robots table, from top to bottom. */
const teams = (page: Page) =>
  page.locator('tbody a[data-team]').evaluateAll((all) => all.map((a) => a.dataset.team));
const inOrder = (values: number[]) => values.every((v, i) => i === 0 || values[i - 1]! >= v);

test('the robots table sorts, is walked by keyboard, and follows a result that is entered elsewhere', async ({
  lead
}) => {
  const path = await makeEvent(lead, 'Robots Trial');
  await lead.goto(`${path}/robots`);
  await expect(lead.getByText('8 robots, 8 of 13 matches played.')).toBeVisible();
  await expect(lead.locator('.points b')).toHaveCount(8);

  // Best first, then the other way round, then by number.
  const all = await Promise.all((await teams(lead)).map((t) => points(lead, t!)));
  expect(inOrder(all)).toBe(true);
  const head = lead.getByRole('columnheader', { name: /Points a match/ });
  await expect(head).toHaveAttribute('aria-sort', 'descending');
  await head.getByRole('button').click();
  expect(inOrder((await Promise.all((await teams(lead)).map((t) => points(lead, t!)))).reverse())).toBe(true);
  await lead.getByRole('columnheader', { name: 'Team' }).getByRole('button').click();
  expect(await teams(lead)).toEqual(['41', '77', '302', '905', '905B', '1207', '3310', '48211']);

  // Least squares on demand, with what they mean.
  await lead.locator('summary', { hasText: 'Columns' }).click();
  await lead.getByLabel('Offence, OPR').check();
  await expect(lead.getByText(/^Least squares: one unknown a robot/)).toBeVisible();
  await lead.locator('summary', { hasText: 'Columns' }).click();

  // Find, arrows, Enter; the list stays beside the robot; Escape goes back to its row.
  await lead.keyboard.press('/');
  await lead.keyboard.type('905');
  await expect(lead.locator('a[data-team]')).toHaveCount(2);
  await lead.keyboard.press('ArrowDown');
  await lead.keyboard.press('ArrowDown');
  await lead.keyboard.press('Enter');
  await expect(lead.getByRole('heading', { name: '905B Grist, second robot' })).toBeVisible();
  await lead.keyboard.press('ArrowUp');
  await expect(lead.getByRole('heading', { name: '905 Grist', exact: true })).toBeVisible();
  await lead.keyboard.press('Escape');
  await expect(lead.getByRole('complementary')).toHaveCount(0);
  await expect(lead.locator('a[data-team="905"]')).toBeFocused();
  await lead.getByRole('searchbox', { name: 'Find a team' }).fill('');

  // Somebody types in Q9 in another window: the numbers here move without a reload.
  const before = await points(lead, '1207');
  const desk = await lead.context().newPage();
  await desk.goto(`${path}/matches/Q9#result`);
  await expect(desk.getByRole('textbox', { name: 'Score, red' })).toBeFocused();
  for (const text of ['60', '0', '8', '12', '4', '0']) {
    await desk.keyboard.type(text);
    await desk.keyboard.press('Enter');
  }
  await expect(desk.getByRole('textbox', { name: 'Score, blue' })).toBeFocused();
  await desk.keyboard.type('14O');
  await desk.keyboard.press('Control+Enter');
  await expect(desk.getByText('“14O” is not a number: type digits only.')).toBeVisible();
  await expect(desk.getByRole('textbox', { name: 'Score, blue' })).toBeFocused();
  await desk.keyboard.type('140');
  await desk.keyboard.press('Control+Enter');

  // It is saved, and the next match without a result is open.
  await desk.waitForURL('**/matches/Q10#result');
  await expect(desk.getByRole('textbox', { name: 'Score, red' })).toBeFocused();
  await expect(lead.getByText('8 robots, 9 of 13 matches played.')).toBeVisible();
  await expect.poll(() => points(lead, '1207')).toBeGreaterThan(before);
});

test('a result is corrected, played again and taken back', async ({ lead }) => {
  const path = await makeEvent(lead, 'Results Trial');
  await lead.goto(`${path}/matches/Q2`);
  await expect(lead.getByText('Red won, 108 to 74.5.')).toBeVisible();
  const red = lead.getByRole('textbox', { name: 'Score, red' });
  await red.fill('20');
  await expect(lead.getByText('The parts and fouls add up to 32, more than the score of 20.')).toBeVisible();
  await red.fill('70');
  await lead.getByRole('button', { name: 'Save the correction' }).click();
  await expect(lead.getByText('Blue won, 74.5 to 70.')).toBeVisible();

  await lead.getByRole('button', { name: 'It was played again' }).click();
  await expect(red).toBeFocused();
  await red.fill('50');
  await lead.getByRole('textbox', { name: 'Score, blue' }).fill('50');
  await lead.getByRole('button', { name: 'Save the result' }).click();
  await expect(lead.getByText('A tie, 50 to 50.')).toBeVisible();
  await expect(lead.getByRole('heading', { name: 'Qualification match 2 play 2' })).toBeVisible();

  // The server says the same.
  interface Played {
    match: string;
    play: number;
    red: { result?: { score: number; robots?: unknown } };
  }
  let matches: Played[] = [];
  await expect
    .poll(async () => {
      const answer = await lead.request.get(`${apiOf(path)}/matches`);
      matches = ((await answer.json()) as { matches: Played[] }).matches;
      return matches.filter((m) => m.match === 'Q2').map((m) => [m.play, m.red.result?.score]);
    })
    .toEqual([
      [1, 70],
      [2, 50]
    ]);
  // What the form does not ask was kept.
  expect(matches.find((m) => m.match === 'Q2')?.red.result?.robots).toEqual({ ramp: ['top', 'top'] });

  await lead.getByRole('button', { name: 'Take the result back' }).click();
  await expect(lead.getByText('Blue won, 74.5 to 70.')).toBeVisible();
});

test('a pick list in two windows at once, and its file', async ({ lead, device }) => {
  const path = await makeEvent(lead, 'List Trial');
  const code = await makeCode(lead, path, 'coach');

  await makeList(lead, path, 'First picks');
  // Our own robot is no candidate.
  expect(await listed(lead)).not.toContain('905');

  const coach = await device(laptop);
  await joinEvent(coach, code, 'kim', '**/e/**');
  await coach.goto(new URL(lead.url()).pathname);
  await expect(coach.locator('[data-row]')).toHaveCount(7);
  const start = await listed(lead);
  expect(await listed(coach)).toEqual(start);

  // Both at once: the coach has no network for a while.
  await coach.context().setOffline(true);
  await row(coach, start[6]).focus();
  await coach.keyboard.press('Alt+Home');
  // The row has the focus before it moves, and again after.
  await expect.poll(async () => (await listed(coach))[0]).toBe(start[6]);
  await expect(row(coach, start[6])).toBeFocused();
  await coach.keyboard.press('2');
  await expect(coach.getByRole('region', { name: 'Tier 2' }).locator('[data-row]')).toHaveCount(1);
  await row(coach, start[1]).focus();
  await coach.keyboard.press('n');
  await coach.keyboard.type('drives "well", =fast');
  await coach.keyboard.press('Enter');
  await row(lead, start[1]).focus();
  await lead.keyboard.press('1');
  await row(lead, start[3]).focus();
  await lead.keyboard.press('x');
  await lead.keyboard.type('<b>tips</b> over');
  await lead.keyboard.press('Enter');
  await expect(lead.getByRole('region', { name: 'Never pick' }).locator('[data-row]')).toHaveCount(1);
  expect(await listed(lead)).not.toEqual(await listed(coach));

  // Back: nobody's move is lost, also where both touched one entry, and both see the same.
  await coach.context().setOffline(false);
  const want = [start[1], start[6], start[0], start[2], start[4], start[5], start[3]];
  await expect.poll(() => listed(lead)).toEqual(want);
  await expect.poll(() => listed(coach)).toEqual(want);
  await expect(row(lead, start[1])).toContainText('drives "well", =fast');
  await expect(coach.getByRole('region', { name: 'Tier 1' }).locator('[data-row]')).toHaveCount(1);
  await expect(coach.getByRole('region', { name: 'Never pick' })).toContainText('<b>tips</b> over');

  // By drag, from the end of the untiered to the front of tier 2; the other window follows.
  const handle = (page: Page, team: string | undefined) =>
    page.locator('.row', { has: row(page, team) }).locator('.handle');
  await handle(lead, start[5]).hover();
  await lead.mouse.down();
  const from = (await handle(lead, start[5]).boundingBox())!;
  await lead.mouse.move(from.x + from.width / 2, from.y - 10, { steps: 5 });
  // The rows make way while the hand moves, so the aim is taken anew until the row is there.
  await expect(async () => {
    const to = (await handle(lead, start[6]).boundingBox())!;
    await lead.mouse.move(to.x + to.width / 2, to.y + 12, { steps: 5 });
    await lead.mouse.move(to.x + to.width / 2, to.y + 4, { steps: 5 });
    await expect(lead.getByRole('region', { name: 'Tier 2' }).locator('li')).toHaveCount(2, {
      timeout: 1000
    });
  }).toPass();
  await lead.mouse.up();
  const dragged = [start[1], start[5], start[6], start[0], start[2], start[4], start[3]];
  await expect.poll(() => listed(lead)).toEqual(dragged);
  await expect.poll(() => listed(coach)).toEqual(dragged);

  // Taken back by its own window only.
  await lead.keyboard.press('z');
  await expect.poll(() => listed(coach)).toEqual(want);

  const file = await exportList(coach);
  expect(file.name).toBe('first-picks.csv');
  expect(file.lines).toEqual([
    'rank,team,tier,never,reason,note',
    `1,${start[1]},1,0,,"drives ""well"", =fast"`,
    `2,${start[6]},2,0,,`,
    `3,${start[0]},,0,,`,
    `4,${start[2]},,0,,`,
    `5,${start[4]},,0,,`,
    `6,${start[5]},,0,,`,
    `7,${start[3]},,1,<b>tips</b> over,`,
    ''
  ]);

  // On paper: black on white, with date and data state in the foot.
  await coach.emulateMedia({ media: 'print', colorScheme: 'dark' });
  await expect(coach.getByText(/^List Trial\. Printed .* \(data state \d+\)\./)).toBeVisible();
  await expect(coach.getByRole('button', { name: 'Print' })).toBeHidden();
  expect(await coach.locator('.paper').evaluate((e) => getComputedStyle(e).color)).toBe('rgb(0, 0, 0)');

  // A typed place, a comment with its author, and a dated copy that stays as it was.
  await coach.emulateMedia({ media: 'screen', colorScheme: 'light' });
  await row(lead, start[5]).focus();
  await lead.keyboard.press('p');
  await lead.keyboard.type('2');
  await lead.keyboard.press('Enter');
  await expect.poll(() => listed(coach)).toEqual(dragged);
  await row(coach, start[0]).click();
  await coach.getByRole('textbox', { name: `Comment on ${start[0]}` }).fill('turns fast');
  await coach.keyboard.press('Enter');
  await expect(row(lead, start[0])).toContainText('“turns fast” kim');
  await lead.getByRole('button', { name: 'Keep a dated copy' }).click();
  await expect(lead.getByText(/that stays as it was/)).toBeVisible();
  await row(lead, start[0]).focus();
  await lead.keyboard.press('Alt+Home');
  await expect(lead.getByText(/^This is a dated copy/)).toBeVisible();
  expect(await listed(lead)).toEqual(dragged);
});

test('without a network the screens show what was kept, and say from when', async ({ lead }) => {
  const path = await makeEvent(lead, 'Quiet Trial');
  await lead.goto(`${path}/robots`);
  await expect(lead.locator('.points b')).toHaveCount(8);
  await ready(lead);
  const kept = await lead.locator('.points b').allTextContents();

  await lead.context().setOffline(true);
  await lead.reload();
  await expect(lead.locator('.points b')).toHaveText(kept);
  await expect(
    lead.getByText(/Estimates from .*; the server does not answer, so they may be old\./)
  ).toBeVisible();

  // A result is taken all the same, and shows at once.
  await lead.goto(`${path}/matches/Q9#result`);
  await lead.getByRole('textbox', { name: 'Score, red' }).fill('71');
  await lead.getByRole('textbox', { name: 'Score, blue' }).fill('64');
  await lead.getByRole('button', { name: 'Save the result' }).click();
  await expect(lead.getByText('We won, 71 to 64.')).toBeVisible();
  await lead.goto(path);
  await expect(lead.getByText('9 of 13 matches played, no record yet.')).toBeVisible();
  await expect(lead.getByText('2 records wait for a network', { exact: true })).toBeVisible();

  await lead.context().setOffline(false);
  await expect(lead.getByText('Everything is stored')).toBeVisible();
});

/** A qualification match from its first brief to what is said after it: a lead on a laptop, a coach on a phone without a network. */
import type { Page } from '@playwright/test';
import { check } from './axe';
import { expect, joinEvent, laptop, makeCode, makeEvent, ready, test } from './fixtures';

/** What the server says of a match, asked with the page's own session. */
const ask = (page: Page, event: string, match: string) =>
  page.evaluate(
    async (at) => (await (await fetch(at)).json()) as unknown,
    `/api/events/${event}/brief/${match}`
  );

const whole = (share: number) => `${Math.round(share * 100)}\u00a0%`;

/** Draws a straight line over the field, from and to in shares of its width and height. */
async function draw(page: Page, from: [number, number], to: [number, number]) {
  const box = await page.locator('.board svg').boundingBox();
  if (!box) throw new Error('there is no field to draw on');
  const at = ([x, y]: [number, number]): [number, number] => [box.x + box.width * x, box.y + box.height * y];
  await page.mouse.move(...at(from));
  await page.mouse.down();
  await page.mouse.move(...at(to), { steps: 6 });
  await page.mouse.up();
}

test('a brief from draft to debrief on two devices, one of them offline', async ({ lead, device }) => {
  test.slow(); // two devices and five looks by axe: beside other work a minute and more
  const path = await makeEvent(lead, 'Brief Trial');
  const event = path.split('/').at(-1) ?? '';
  const code = await makeCode(lead, path, 'coach');
  const coach = await device({ viewport: { width: 390, height: 844 }, timezoneId: laptop.timezoneId });
  await joinEvent(coach, code, 'cora', '**/e/*');
  await ready(coach);

  // The numbers are those of the server.
  await lead.goto(`${path}/brief`);
  await expect(lead.getByText('Q9 is our next match, Sat 17 May, about 10:39')).toBeVisible();
  await lead.getByRole('link', { name: /Q9/ }).click();
  await expect(lead.getByRole('heading', { name: 'Who does what' })).toBeVisible();
  const b = (await ask(lead, event, 'Q9')) as {
    ours: 'red' | 'blue';
    red: { team: string; now: number }[];
    now: {
      forecast: { chance: { red: number; blue: number }; red: { mean: number }; blue: { mean: number } };
    };
    plan: { why: string };
  };
  expect(b.ours).toBe('red');
  await expect(lead.locator('.first')).toContainText(whole(b.now.forecast.chance.red));
  await expect(lead.locator('.first')).toContainText(
    `${b.now.forecast.red.mean.toFixed(0)} to ${b.now.forecast.blue.mean.toFixed(0)} points.`
  );
  await expect(lead.getByText(b.plan.why)).toBeVisible();
  for (const r of b.red) {
    const card = lead.getByRole('article').filter({ hasText: r.team }).first();
    await expect(card.locator('.now b')).toHaveText(r.now.toFixed(1));
  }
  await lead.getByText('Assume something else').click();
  await lead.getByRole('button', { name: 'The win' }).click();
  await expect(lead.getByText('The brief above is under this assumption')).toBeVisible();
  await check(lead, 'brief');

  // The phone has it before anybody opened it there, and says from when.
  await coach.goto(`${path}/brief`);
  await expect
    .poll(() =>
      coach.evaluate(async () => {
        const db = await new Promise<IDBDatabase>((done) => {
          const asked = indexedDB.open('sextant');
          asked.onsuccess = () => done(asked.result);
        });
        const keys = await new Promise<string[][]>((done) => {
          const asked = db.transaction('bundle').objectStore('bundle').getAllKeys();
          asked.onsuccess = () => done(asked.result as string[][]);
        });
        db.close();
        return keys.map((k) => k[1]).filter((k) => k?.startsWith('brief/'));
      })
    )
    .toEqual(['brief/Q12', 'brief/Q9']);
  await coach.context().setOffline(true);
  await coach.goto(`${path}/brief/Q9`);
  await expect(coach.getByText(b.plan.why)).toBeVisible();
  await expect(
    coach.getByText(/^Brief from .* the server does not answer, so they may be old\./)
  ).toBeVisible();
  expect(await coach.evaluate(() => document.documentElement.scrollWidth)).toBe(390);

  // One tap, and nobody reads along; a reload does not undo it.
  await coach.getByRole('button', { name: 'Hide all' }).click();
  await expect(coach.getByRole('heading', { name: 'Who does what' })).toBeHidden();
  await coach.reload();
  await expect(coach.getByRole('button', { name: 'Show again' })).toBeVisible();
  await expect(coach.getByRole('heading', { level: 1 })).toBeHidden();
  await check(coach, 'hidden');
  await coach.getByRole('button', { name: 'Show again' }).click();

  // Both write down and draw at once.
  await coach.getByLabel('Who promises').selectOption('41');
  await coach.getByLabel('What was agreed').fill('Stays on the near side');
  await coach.getByRole('button', { name: 'Agree', exact: true }).click();
  await expect(coach.getByText('noted by cora')).toBeVisible();
  await coach.getByRole('link', { name: 'Draw' }).click();
  await coach.getByRole('button', { name: 'Pen' }).click();
  await draw(coach, [0.3, 0.3], [0.6, 0.5]);
  await expect(coach.locator('.ink')).toHaveCount(1);
  await coach.getByRole('button', { name: 'Move', exact: true }).click();
  await coach.getByRole('button', { name: /^Robot 905,/ }).focus();
  await coach.keyboard.press('ArrowDown');
  await expect(coach.getByRole('button', { name: /^0 s.*drawn/ })).toBeVisible();
  await check(coach, 'sketch');

  await lead.getByLabel('What was agreed').fill('We cross first');
  await lead.getByRole('button', { name: 'Agree', exact: true }).click();
  await expect(lead.getByText('We cross first')).toBeVisible();
  await lead.getByRole('link', { name: 'Draw' }).click();
  await lead.getByRole('button', { name: 'Pen' }).click();
  await draw(lead, [0.5, 0.2], [0.7, 0.8]);
  await draw(lead, [0.2, 0.2], [0.2, 0.8]);
  await expect(lead.locator('.ink')).toHaveCount(2);
  await lead.getByRole('button', { name: 'Undo' }).click();
  await expect(lead.locator('.ink')).toHaveCount(1);
  const [file] = await Promise.all([
    lead.waitForEvent('download'),
    lead.getByRole('button', { name: 'Save as picture' }).click()
  ]);
  expect(file.suggestedFilename()).toBe('Q9-second-0.png');

  await coach.context().setOffline(false);
  for (const page of [lead, coach]) {
    await expect(page.locator('.ink')).toHaveCount(2);
    await expect(page.locator('.robot:not(.still)')).toHaveCount(1);
  }

  // It is played; half a minute later all is said.
  await lead.goto(`${path}/matches/Q9#result`);
  await lead.getByRole('textbox', { name: 'Score, red' }).fill('71');
  await lead.getByRole('textbox', { name: 'Score, blue' }).fill('64');
  await lead.getByRole('button', { name: 'Save the result' }).click();
  await coach.goto(`${path}/brief/Q9`);
  await expect(coach.getByText('We won, 71 to 64.')).toBeVisible();
  await coach
    .getByRole('group', { name: 'Was the plan kept?' })
    .getByRole('button', { name: 'Kept', exact: true })
    .click();
  await coach
    .getByRole('group', { name: 'Play with 41 again?' })
    .getByRole('button', { name: 'Yes' })
    .click();
  await coach.getByLabel('What broke').fill('A chain of 41');
  await coach.getByLabel('What broke').blur();
  await coach
    .getByRole('group', { name: '41: Stays on the near side' })
    .getByRole('button', { name: 'Kept', exact: true })
    .click();
  await check(coach, 'debrief');

  await lead.goto(`${path}/brief`);
  await expect(lead.getByRole('link', { name: /Q9.*2 agreed, 1 kept; plan kept/ })).toBeVisible();
  await lead.getByRole('link', { name: /Q9/ }).click();
  await expect(lead.getByLabel('What broke')).toHaveValue('A chain of 41');
  await expect(
    lead.getByRole('group', { name: 'Play with 41 again?' }).getByRole('button', { name: 'Yes' })
  ).toHaveAttribute('aria-pressed', 'true');
});

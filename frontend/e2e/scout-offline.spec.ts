import { apiOf, expect, joinEvent, makeCode, makeEvent, ready, tablet, test } from './fixtures';

test('from the first start to records made without a network', async ({ lead, device }) => {
  const path = await makeEvent(lead, 'Mill Trial');
  const code = await makeCode(lead, path);
  expect(code).toMatch(/^[0-9A-Z]{4}-[0-9A-Z]{4}$/);

  const scout = await device(tablet);
  await joinEvent(scout, code, 'ann');
  await expect(scout.getByRole('heading', { name: 'Which robot do you watch?' })).toBeVisible();
  await expect(scout.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  await ready(scout);

  await scout.context().setOffline(true);
  await scout.reload();
  await expect(scout.getByRole('heading', { name: /^W1/ })).toBeVisible();

  // The first match, by taps.
  await scout.getByRole('link', { name: /41 / }).first().tap();
  await scout.getByRole('button', { name: 'Sluice opened' }).tap();
  await scout.getByRole('button', { name: 'Driven' }).tap();
  const sack = scout.getByRole('button', { name: /^Sack on cart made/ });
  for (let i = 0; i < 3; i++) await sack.tap();
  await scout.getByRole('button', { name: /^Sack on cart missed/ }).tap();
  await scout
    .getByRole('button', { name: /^Take back Sack on cart \d/ })
    .first()
    .tap();
  await expect(sack).toHaveAccessibleName('Sack on cart made 2');

  // A reload in the middle loses nothing, not even what is tapped just then.
  const gone = scout.waitForEvent('load');
  await scout.getByRole('button', { name: 'On top' }).evaluate((button: HTMLButtonElement) => {
    button.click();
    location.reload();
  });
  await gone;
  await scout.getByRole('button', { name: 'Driven' }).tap();
  await expect(sack).toHaveAccessibleName('Sack on cart made 2');
  await scout.getByRole('button', { name: 'Save' }).tap();
  await expect(scout.getByText('Saved: W1, 41.')).toBeVisible();
  await expect(scout.getByText('1 record waits for a network')).toBeVisible();

  // The second, a robot that is in no schedule.
  await scout.getByText('Another match or robot').tap();
  await scout.getByLabel('Match', { exact: true }).fill('q 2');
  await scout.getByLabel('Team', { exact: true }).fill('77');
  await scout.getByRole('button', { name: 'Watch' }).tap();
  await scout.getByRole('button', { name: 'Sluice opened' }).tap();
  await scout.getByRole('button', { name: 'Finish' }).tap();
  await scout.getByLabel('Note').fill('<b>careful</b>; drop table');
  await scout.getByRole('button', { name: 'Save' }).tap();
  await expect(scout.getByText('2 records wait for a network')).toBeVisible();

  await scout.getByRole('link', { name: 'My records (2)' }).tap();
  await expect(scout.getByRole('row', { name: /W1.*41.*waits/ })).toBeVisible();

  await scout.context().setOffline(false);
  await expect(scout.getByRole('row', { name: /W1.*41.*stored/ })).toBeVisible();
  await expect(scout.getByRole('row', { name: /Q2.*77.*stored/ })).toBeVisible();

  // What the server has is what was tapped.
  const answer = await lead.request.get(`${apiOf(path)}/records?kind=observation`);
  const { records } = (await answer.json()) as { records: { body: Record<string, unknown> }[] };
  expect(
    records.map((r) => r.body).toSorted((a, b) => String(b.match).localeCompare(String(a.match)))
  ).toMatchObject([
    {
      match: 'W1',
      team: '41',
      scout: 'ann',
      counts: { sluice: { made: 1 }, sack: { made: 2, missed: 1 }, sack_high: { made: 0 } },
      choices: { ramp: { option: 'top', tried: false } },
      fouls: { push: 0 }
    },
    { match: 'Q2', team: '77', note: '<b>careful</b>; drop table' }
  ]);
});

test('a scout corrects a record, and the lead sees both versions', async ({ lead, device }) => {
  const path = await makeEvent(lead, 'Mill Trial 2');
  const scout = await device(tablet);
  await joinEvent(scout, await makeCode(lead, path), 'bo');
  await scout.getByRole('link', { name: /77 / }).first().tap();
  await scout.getByRole('button', { name: 'Sluice opened' }).tap();
  await scout.getByRole('button', { name: 'Save' }).tap();
  await scout.getByRole('link', { name: 'My records (1)' }).tap();
  await scout.getByRole('link', { name: 'Correct W1, 77' }).tap();
  await scout.getByRole('button', { name: 'Sack in loft, one more' }).tap();
  await scout.getByRole('button', { name: 'Save the correction' }).tap();
  await expect(scout.getByRole('row', { name: /W1.*77.*stored, corrected/ })).toBeVisible();

  const events = apiOf(path);
  const { records } = (await (await lead.request.get(`${events}/records?kind=observation`)).json()) as {
    records: { record_id: string; body: unknown }[];
  };
  expect(records[0]?.body).toMatchObject({ counts: { sack_high: { made: 1 } }, edited: true });
  const { revisions } = (await (
    await lead.request.get(`${events}/records/${records[0]?.record_id}/revisions`)
  ).json()) as { revisions: unknown[] };
  expect(revisions).toHaveLength(2);
});

test('a phone shows the whole form after many taps and a turn, and nothing is wider than the screen', async ({
  lead,
  device
}) => {
  const path = await makeEvent(lead, 'On a phone');
  const phone = await device({ ...tablet, viewport: { width: 844, height: 390 } });
  await joinEvent(phone, await makeCode(lead, path), 'hal');
  await phone.getByRole('link', { name: /41 / }).first().tap();
  await phone.getByRole('button', { name: 'Driven' }).tap();
  for (let i = 0; i < 10; i++) await phone.getByRole('button', { name: /^Sack on cart made/ }).tap();
  await phone.setViewportSize({ width: 390, height: 844 });
  await expect(phone.getByRole('button', { name: 'Save' })).toBeInViewport({ ratio: 1 });
  expect(await phone.evaluate(() => [innerWidth, document.documentElement.scrollWidth])).toEqual([390, 390]);
});

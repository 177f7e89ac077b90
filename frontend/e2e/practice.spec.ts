/** Before and around a match: practise, the lead's question, the judgement over all robots. */
import { check } from './axe';
import { expect, tablet, test } from './fixtures';
import { gameEvent, scoutOf } from './scout-event';

test('a scout practises on an invented match and sees what there was', async ({ lead, device }) => {
  const path = await gameEvent(lead, 'Practice Trial', 'slackwater.json');
  const scout = await device(tablet);
  await scoutOf(lead, scout, path, 'ann');
  await scout.clock.install();
  await scout.getByRole('link', { name: 'Practise' }).tap();
  await check(scout, 'around a match');
  await scout.getByRole('button', { name: 'A short one, 40 seconds' }).tap();
  await expect(scout.getByText('Watch the robot with the ring.')).toBeVisible();
  await scout.clock.runFor(4_000);
  // The form is the scout's own: what is tapped is counted, nothing of it becomes a record.
  await scout.getByRole('button', { name: /^Casts off/ }).tap();
  await expect(scout.getByRole('button', { name: 'Something wrong?' })).toHaveCount(0);
  await scout.clock.runFor(45_000);
  await expect(scout.getByText('Over. Press Save.')).toBeVisible();
  await scout.clock.resume();
  await scout.getByRole('button', { name: 'Save', exact: true }).tap();
  await expect(scout.getByRole('columnheader', { name: 'There was' })).toBeVisible();
  await expect(scout.getByRole('row')).not.toHaveCount(1);
  await check(scout, 'around a match');

  const id = path.split('/')[2];
  const kind = async (name: string) => {
    const answer = await lead.request.get(`/api/events/${id}/records?kind=${name}`);
    return ((await answer.json()) as { records: { body: Record<string, unknown> }[] }).records;
  };
  await expect.poll(async () => (await kind('training')).length).toBe(1);
  expect((await kind('training'))[0]!.body).toMatchObject({ scout: 'ann', script: { seconds: 40 } });
  expect(await kind('observation')).toEqual([]);
  await scout.getByRole('link', { name: 'Back' }).tap();
  await expect(scout.getByRole('heading', { name: 'Which robot do you watch?' })).toBeVisible();
});

test('the lead asks, the scout answers in the record and judges all robots', async ({ lead, device }) => {
  const path = await gameEvent(lead, 'Question Trial', 'slackwater.json');
  await lead.goto(`${path}/robots/40117`);
  await lead.getByPlaceholder('Ask something about it, e.g. Does it lift?').fill('Does it lift?');
  await lead.getByRole('button', { name: 'Ask', exact: true }).click();
  await expect(lead.getByText('No answer yet')).toBeVisible();

  const scout = await device(tablet);
  const begun = Date.now();
  let taps = 0;
  const tap = async (name: string | RegExp) => {
    taps++;
    await scout
      .getByRole('button', { name, exact: typeof name === 'string' })
      .first()
      .tap();
  };
  await scoutOf(lead, scout, path, 'ann');
  // The seat is chosen once; from then on the robot of every match is the large card.
  await tap('red alliance 1');
  const card = scout.getByRole('link', { name: /Watch this robot/ });
  await expect(card).toContainText('40117');
  await expect(card).toContainText('Does it lift?');
  await scout.getByLabel('Ask me about all robots after a match').check();
  await check(scout, 'around a match');
  taps++;
  await card.tap();
  await tap(/^Casts off/);
  await tap('Save');
  await expect(scout.getByText('Saved: Q1, 40117.')).toBeVisible();
  console.log(
    `from the join to the first saved record: ${taps} taps after the nickname, ${Date.now() - begun} ms by a machine`
  );

  await tap('Yes');
  await expect(scout.getByText('Answered: yes.')).toBeVisible();
  await expect(scout.getByText('Tap the best of them.')).toBeVisible();
  const robots = scout.getByRole('region', { name: /in Q1$/ });
  await robots.getByRole('button', { name: /40123/ }).tap();
  await expect(scout.getByText('And the worst?')).toBeVisible();
  await robots.getByRole('button', { name: /40140/ }).tap();
  await expect(scout.getByText(/^Thank you\./)).toBeVisible();
  await check(scout, 'around a match');

  await lead.goto(`${path}/robots/40117`);
  await expect(lead.locator('.answer').filter({ hasText: 'yes' })).toContainText('ann');
  const id = path.split('/')[2];
  const judged = async () => {
    const answer = await lead.request.get(`/api/events/${id}/records?kind=judgement`);
    return ((await answer.json()) as { records: { body: Record<string, unknown> }[] }).records[0]?.body;
  };
  await expect.poll(judged).toMatchObject({ match: 'Q1', best: '40123', worst: '40140', scout: 'ann' });
});

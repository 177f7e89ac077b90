import { expect, makeEvent, test } from './fixtures';

test('sheets of paper are one page each, and one is typed in by keyboard alone', async ({ lead }) => {
  const path = await makeEvent(lead, 'Paper Trial');
  await lead.goto(`${path}/matches`);
  await lead.getByRole('link', { name: 'Paper sheets' }).click();
  await expect(lead.getByRole('heading', { name: 'Paper sheets' })).toBeVisible();
  await lead.getByLabel('For').selectOption('Red 1');
  await lead.getByLabel('From match').selectOption('Q9');
  // Four robots of one place on a page, on A4 as on US Letter.
  for (const format of ['A4', 'Letter']) {
    const pages = (await lead.pdf({ format, preferCSSPageSize: false })).toString('latin1');
    expect(pages.match(/\/Type\s*\/Page\b/g), format).toHaveLength(1);
  }
  await lead.getByLabel('For').selectOption('Any robot, numbers by hand');
  await lead.getByLabel('Pages').selectOption('2');
  const two = (await lead.pdf({ format: 'A4' })).toString('latin1');
  expect(two.match(/\/Type\s*\/Page\b/g)).toHaveLength(2);

  await lead.getByRole('link', { name: 'type them in' }).click();
  await lead.getByLabel('Match').focus();
  const begun = Date.now();
  // Match, station, scout, then the lines as they stand on the paper.
  const lines = ['q1', 'r1', 's09', 'near', '1', '5+2', '3', '', '0', '2', '1', '0', '12', 'steady'];
  for (const text of lines) {
    await lead.keyboard.type(text);
    await lead.keyboard.press('Enter');
  }
  await lead.keyboard.type('tipped once');
  await lead.keyboard.press('Enter');
  await expect(lead.getByRole('status').filter({ hasText: 'is saved on this device' })).toBeVisible();
  console.log(`one robot's sheet: ${lines.join('').length + 11} characters, ${lines.length + 1} times Enter`);
  console.log(`typed by the machine in ${Date.now() - begun} ms`);
  await expect(lead.getByLabel('Match')).toBeFocused();
  await expect(lead.getByLabel('Match')).toHaveValue('Q1');
  await expect(lead.getByLabel('Watched by')).toHaveValue('s09');

  // Typed once more it would replace the record, and says so; a robot of another match is doubted.
  await lead.getByLabel('Robot').fill('r1');
  await expect(lead.getByText(/^s09 has recorded \d+ in Q1 already/)).toBeVisible();
  await lead.getByLabel('Robot').fill('99999');
  await expect(lead.getByText(/^99999 does not play in Q1/)).toBeVisible();

  const id = path.split('/')[2];
  const csv = async () =>
    (await lead.request.get(`/api/events/${id}/export?form=csv&table=observations`)).text();
  await expect.poll(csv).toContain('s09');
  const [head, ...rows] = (await csv()).trim().split(/\r?\n/);
  const row = rows.find((r) => r.includes('s09'))!.split(',');
  const cell = (name: string) => row[head!.split(',').indexOf(name)];
  expect({
    match: cell('match'),
    sluice: cell('sluice'),
    sack: cell('sack'),
    missed: cell('sack_missed'),
    high: cell('sack_high'),
    spill: cell('spill'),
    ramp: cell('ramp'),
    tried: cell('ramp_tried'),
    push: cell('push'),
    lane: cell('lane'),
    halted: cell('halted'),
    note: cell('note')
  }).toEqual({
    match: 'Q1',
    sluice: '1',
    sack: '7',
    missed: '3',
    high: '',
    spill: '0',
    ramp: 'top',
    tried: '1',
    push: '0',
    lane: 'near',
    halted: '12',
    note: 'tipped once'
  });
});

test('the venue’s ranking is pasted and agrees, or says where it does not', async ({ lead }) => {
  const path = await makeEvent(lead, 'Ranking Trial');
  await lead.goto(`${path}/matches`);
  await lead.getByRole('link', { name: 'Official ranking' }).click();
  const box = lead.getByLabel('The venue’s ranking', { exact: true });
  const id = path.split('/')[2];
  const answer = await lead.request.get(`/api/events/${id}/standings`);
  const { ranking } = (await answer.json()) as { ranking: { rank: number; team: string; total: number }[] };
  const text = (by: (team: string) => number) =>
    ranking.map((r) => `${r.rank}\t${r.team}\t${r.total + by(r.team)}`).join('\n');
  await box.fill(text(() => 0));
  await expect(
    lead.getByText('All 8 robots stand where the game file puts them, figures included.')
  ).toBeVisible();
  // One ranking point more for blue's two of Q1, who are nowhere else in one alliance.
  await box.fill(text((t) => (t === '905' || t === '3310' ? 1 : 0)));
  await expect(lead.getByText(/Look at Q1 blue first\./)).toBeVisible();
  await lead.getByRole('link', { name: 'Q1 blue' }).click();
  await lead.waitForURL(/\/matches\/Q1$/);
});

/** The truth desk: two scouts enter an exchanged pair and a stuck counter; they are found, asked about, mended. */
import type { Page } from '@playwright/test';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { check } from './axe';
import { apiOf, expect, joinEvent, makeCode, tablet, test } from './fixtures';

type Row = Record<string, string>;
const COUNTS = ['auto_deck', 'deck', 'hold', 'pennant'];

/** An invented event whose scouts make no mistakes, as files. */
function invent(): {
  game: {
    actions: { id: string; options?: { id: string }[] }[];
    questions: { id: string; options?: string[] }[];
  };
  teams: string;
  matches: string;
  rows: Row[];
  head: string[];
} {
  const out = mkdtempSync(join(tmpdir(), 'sextant-e2e-truth-'));
  try {
    const kind = ['--watched', '1', '--careless', '0', '--mistakes', '0', '--runs', '2', '--scouts', '8'];
    execFileSync(process.env.SEXTANT_E2E_BINARY ?? '', [
      'simulate',
      '--seed',
      '31',
      '--teams',
      '18',
      '--matches-per-team',
      '10',
      ...kind,
      '--out',
      out
    ]);
    const file = (name: string) => readFileSync(join(out, name), 'utf8');
    const [head = [], ...cells] = file('observations.csv')
      .trim()
      .split('\n')
      .map((l) => l.split(','));
    const rows = cells.map((c) => Object.fromEntries(head.map((h, i) => [h, c[i] ?? ''])));
    return {
      game: JSON.parse(file('game.json')),
      teams: file('teams.csv'),
      matches: file('matches.csv'),
      rows,
      head
    };
  } finally {
    rmSync(out, { recursive: true });
  }
}

/** Makes an event over the API; returns its path. */
async function eventOf(
  lead: Page,
  name: string,
  world: ReturnType<typeof invent>,
  rows: Row[]
): Promise<string> {
  const { game, teams, matches, head } = world;
  const made = await lead.request.post('/api/events', { data: { name, zone: 'UTC', game } });
  const { event_id: id } = (await made.json()) as { event_id: string };
  const observations = [head.join(','), ...rows.map((r) => head.map((h) => r[h]).join(',')), ''].join('\n');
  for (const [table, data] of Object.entries({ teams, matches, observations })) {
    const headers = { 'content-type': 'text/csv' };
    const answer = await lead.request.post(`/api/events/${id}/import?table=${table}`, { headers, data });
    expect(answer.ok(), await answer.text()).toBe(true);
  }
  return `/e/${id}`;
}

async function estimates(lead: Page, path: string): Promise<Record<string, number>> {
  const answer = await lead.request.get(`${apiOf(path)}/estimates`);
  const { teams } = (await answer.json()) as { teams: { team: string; points: number }[] };
  return Object.fromEntries(teams.map((t) => [t.team, t.points]));
}

/** A scout types in a sheet. */
async function typeSheet(
  page: Page,
  path: string,
  world: ReturnType<typeof invent>,
  row: Row
): Promise<void> {
  await page.goto(`${path}/paper/type`);
  await page.locator('#paper-match').fill(row.match ?? '');
  await page.locator('#paper-team').fill(row.team ?? '');
  for (const column of world.head.slice(3)) {
    const field = page.locator(`#paper-${column}`);
    const value = row[column] ?? '';
    if (column === 'absent' || column === 'note' || !value) continue;
    const options =
      world.game.actions.find((x) => x.id === column)?.options?.map((o) => o.id) ??
      world.game.questions.find((q) => q.id === column)?.options;
    await field.fill(options ? String(options.indexOf(value)) : value);
  }
  await page.getByRole('button', { name: 'Save, then the next robot' }).click();
  await expect(page.getByText(/is saved on this device/)).toBeVisible();
}

test('an exchanged pair and a stuck counter are found, asked about and mended', async ({ lead, device }) => {
  const world = invent();
  // Who does most and who does least of the partners of one match.
  const worth = new Map<string, number>();
  const did = (r: Row) => COUNTS.reduce((sum, id) => sum + Number(r[id] ?? 0), 0);
  for (const r of world.rows) worth.set(r.team!, (worth.get(r.team!) ?? 0) + did(r) / 10);
  const moving = world.rows.filter((r) => r.absent !== '1' && Number(r.stopped) === 0);
  const sides = world.matches.split('\n').map((l) => l.split(','));
  let best: { strong: Row; weak: Row; apart: number } | undefined;
  for (const [match, , , teams = ''] of sides) {
    const of = moving.filter((r) => r.match === match && teams.split(' ').includes(r.team!));
    for (const strong of of)
      for (const weak of of) {
        const apart = Math.min(worth.get(strong.team!)! - worth.get(weak.team!)!, did(strong) - did(weak));
        if (strong.scout !== weak.scout && apart > (best?.apart ?? 0)) best = { strong, weak, apart };
      }
  }
  const { strong, weak } = best!;
  const counter = moving.find((r) => r.scout === weak.scout && r.match !== weak.match && Number(r.hold) > 1)!;

  const right = await eventOf(lead, 'Right Trial', world, world.rows);
  const path = await eventOf(
    lead,
    'Truth Trial',
    world,
    world.rows.filter((r) => r !== strong && r !== weak && r !== counter)
  );
  const want = await estimates(lead, right);
  const join = await makeCode(lead, path);
  const ana = await device(tablet);
  const ben = await device(tablet);
  await joinEvent(ana, join, strong.scout!);
  await joinEvent(ben, join, weak.scout!);
  await typeSheet(ana, path, world, { ...strong, team: weak.team! });
  await typeSheet(ben, path, world, { ...weak, team: strong.team! });
  await typeSheet(ben, path, world, { ...counter, hold: String(Number(counter.hold) + 25) });

  await lead.goto(`${path}/truth`);
  await expect(lead.getByText(/safe to pick from/)).toBeVisible();
  const swap = lead.getByRole('listitem', { name: `${strong.match}: Two robots exchanged` });
  const stuck = lead.getByRole('listitem', { name: `${counter.match}: A counter ran away, ${counter.team}` });
  await expect(swap).toBeVisible();
  await expect(stuck).toContainText('where about');
  await check(lead, 'truth desk');
  const wrong = await estimates(lead, path);
  expect(want[strong.team!]! - wrong[strong.team!]!).toBeGreaterThan(0.5);

  // The scout is asked, on that tablet alone, and answers.
  await stuck.getByRole('button', { name: `Ask ${weak.scout} about ${counter.team}` }).click();
  await expect(stuck.getByText('No answer yet.')).toBeVisible();
  await ben.goto(`${path}/watch`);
  const question = ben.getByRole('region', { name: `A question about ${counter.team}` });
  await expect(question).toContainText(`stands at ${Number(counter.hold) + 25}. Is that right?`);
  await question.getByRole('button', { name: 'No' }).click();
  await ana.goto(`${path}/watch`);
  await expect(ana.getByRole('region', { name: `A question about ${counter.team}` })).toHaveCount(0);
  await expect(stuck.getByText('No answer yet.')).toHaveCount(0);

  // Mended: one tap, and one number typed.
  await swap.getByRole('button', { name: 'Exchange the two' }).click();
  await expect(swap).toHaveCount(0);
  await stuck.getByRole('button', { name: `Correct ${counter.team}` }).click();
  await stuck.getByLabel('Barrel in hold', { exact: true }).fill(counter.hold!);
  await stuck.getByRole('button', { name: 'Save the correction' }).click();
  await expect(stuck).toHaveCount(0);

  // The estimates are those of an event without mistakes, and the desk says from what to what.
  await expect
    .poll(async () => {
      const now = await estimates(lead, path);
      return Math.max(...Object.keys(want).map((t) => Math.abs(now[t]! - want[t]!)));
    })
    .toBeLessThan(0.01);
  const mended = lead.getByRole('region', { name: 'Mended' });
  await lead.getByRole('link', { name: 'See what moved, or take it back' }).click();
  await expect(mended.getByRole('heading')).toBeInViewport();
  await expect(mended).toContainText(new RegExp(`${strong.team} ${wrong[strong.team!]!.toFixed(1)} → \\d`));
  await check(lead, 'truth desk, mended');

  // The history says who, what and why.
  await mended.getByRole('link', { name: `History of ${strong.team} in ${strong.match}` }).click();
  await expect(lead.getByText('counts now')).toBeVisible();
  await expect(
    lead.getByText(`Exchanged with ${weak.team}: each record looks like the other robot’s`.replace('’', "'"))
  ).toBeVisible();
  await expect(lead.locator('ol > li').first()).toContainText(`Robot: ${weak.team} → ${strong.team}`);

  // Taken back, it is in doubt again.
  await lead.goto(`${path}/truth`);
  await lead.getByRole('button', { name: `Take back: ${strong.match}` }).click();
  await expect(swap).toBeVisible();

  // A name is taken away, and the records stay: the same estimates, under no name.
  const before = await estimates(lead, path);
  const people = lead.getByRole('region', { name: 'Helping the scouts' });
  await people.getByText(counter.scout!, { exact: true }).click();
  await people.getByRole('button', { name: `Take the name ${counter.scout} away` }).click();
  await people.getByRole('button', { name: 'Take the name away', exact: true }).click();
  await expect(people.getByText(`${counter.scout} is s`)).toBeVisible();
  await expect(people.locator('summary', { hasText: counter.scout! })).toHaveCount(0);
  await expect
    .poll(async () => {
      const now = await estimates(lead, path);
      return Math.max(...Object.keys(before).map((t) => Math.abs(now[t]! - before[t]!)));
    })
    .toBeLessThan(0.01);
});

test('a robot that scores no more is asked about at the pits, and one tap marks it', async ({ lead }) => {
  const world = invent();
  // The robot that does most with barrels in every one of its first five matches does nothing after them.
  const number = (match: string) => Number(match.slice(1));
  const of = (team: string) =>
    world.rows.filter((r) => r.team === team).sort((a, b) => number(a.match!) - number(b.match!));
  const least = (team: string) =>
    Math.min(
      ...of(team)
        .slice(0, 5)
        .map((r) => Number(r.deck) + Number(r.hold))
    );
  const [team] = [...new Set(world.rows.map((r) => r.team!))].sort((a, b) => least(b) - least(a)) as [string];
  expect(least(team)).toBeGreaterThan(2);
  const stopped = new Set(of(team).slice(5));
  const counted = world.head.filter((h) => COUNTS.some((c) => h === c || h === `${c}_missed`));
  const rows = world.rows.map((r) =>
    stopped.has(r) ? { ...r, ...Object.fromEntries(counted.map((h) => [h, '0'])) } : r
  );
  const path = await eventOf(lead, 'Changed', world, rows);

  await lead.goto(`${path}/pits`);
  const line = lead.getByRole('listitem').filter({ hasText: `${team} scores differently since Q` });
  await expect(line).toContainText('Changed, repaired, substitute?');
  await check(lead, 'pits with a change');

  // Marked on the robot's page, and taken back there.
  await lead.goto(`${path}/robots/${team}/page`);
  await line.getByRole('button', { name: `${team}: Repaired` }).click();
  await expect(line).toHaveCount(0);
  await expect(lead.getByText(`${team} is another from Q`)).toBeVisible();
  const marked = lead.getByRole('listitem').filter({ hasText: /^Repaired from Q/ });
  await marked.getByRole('button', { name: 'Take back' }).click();
  await expect(marked).toHaveCount(0);
  await expect(line).toBeVisible();

  // Nothing changed: nobody is asked again.
  await lead.goto(`${path}/pits`);
  await line.getByRole('button', { name: `${team}: No change` }).click();
  await expect(line).toHaveCount(0);
  await expect
    .poll(async () => {
      const answer = await lead.request.get(`${apiOf(path)}/truth`);
      const { current, changes } = (await answer.json()) as { current: boolean; changes: { team: string }[] };
      return current && changes.every((c) => c.team !== team);
    })
    .toBe(true);
  await lead.reload();
  await expect(lead.getByRole('heading', { name: 'Pits' })).toBeVisible();
  await expect(line).toHaveCount(0);
  await lead.goto(`${path}/robots/${team}/page`);
  await expect(lead.getByText(/^No change up to Q/)).toBeVisible();
});

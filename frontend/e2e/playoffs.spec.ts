import type { Page } from '@playwright/test';
import { v7 } from 'uuid';
import { check } from './axe';
import { apiOf, bareEvent, expect, takeTable, test } from './fixtures';

/** 36 invented teams: eight alliances of four and four who may come in as a backup robot. */
const numbers = Array.from({ length: 36 }, (_, i) => String(40201 + i));

/** Matches in which the lower number is always the stronger robot; everybody plays six. */
function schedule(): string[] {
  const lines = ['match,starts_at,alliance,teams,score'];
  let n = 0;
  for (let round = 0; round < 6; round++) {
    // A stride that shares no factor with 36 mixes partners anew each round.
    const order = numbers.map((_, i) => numbers[(i * [1, 5, 7, 11, 13, 17][round]! + round) % 36]!);
    for (let i = 0; i < 36; i += 6) {
      n++;
      const at = new Date(Date.UTC(2031, 4, 17, 8, 7 * n)).toISOString();
      for (const [colour, robots] of [
        ['red', order.slice(i, i + 3)],
        ['blue', order.slice(i + 3, i + 6)]
      ] as const) {
        const score = robots.reduce((sum, t) => sum + 4 + (40237 - Number(t)), 0);
        lines.push(`Q${n},${at},${colour},${robots.join(' ')},${score}`);
      }
    }
  }
  return lines;
}

interface Api {
  get: <T>(path: string) => Promise<T>;
  send: (method: 'post' | 'put' | 'patch', path: string, data: unknown, type?: string) => Promise<unknown>;
}

/** The event's API, as the signed-in lead. */
function speaking(lead: Page, path: string): Api {
  const base = apiOf(path);
  return {
    get: async <T>(at: string) => (await (await lead.request.get(base + at)).json()) as T,
    send: async (method, at, data, type = 'application/json') => {
      const answer = await lead.request[method](base + at, {
        data: data as string,
        headers: { 'Content-Type': type }
      });
      expect(answer.ok(), `${method} ${at}: ${await answer.text()}`).toBe(true);
      return answer;
    }
  };
}

interface Side {
  teams: string[];
  result: { score: number; components: Record<string, number> };
}

test('thirteen matches and a final of three to the champion', async ({ lead }) => {
  test.setTimeout(180_000);
  const path = await bareEvent(lead, { name: 'Playoff Trial', game: 'slackwater.json', our_team: '40201' });
  const api = speaking(lead, path);
  await lead.goto(`${path}/playoffs`);
  await expect(lead.getByText(/^No alliances yet\./)).toBeVisible();

  await api.send('patch', '', { overrides: { selection: { alliances: 8, picks: 3, order: 'serpentine' } } });
  await takeTable(lead, path, 'teams', ['team,name', ...numbers.map((t) => `${t},Invented ${t}`)]);
  await takeTable(lead, path, 'matches', schedule());
  await expect
    .poll(async () => {
      const { current, fit } = await api.get<{ current: boolean; fit: { matches: number } }>('/estimates');
      return current && fit.matches;
    })
    .toBe(36);
  // Everybody takes the first who is free, so alliance 1 are the places 1, 9, 24 and 25.
  const asked = await lead.request.post(`${apiOf(path)}/selection`, {
    data: { runs: 1 }
  });
  const { ranking } = (JSON.parse((await asked.text()).split('\n')[0]!) as { board: { ranking: string[] } })
    .board;
  const our = ranking[0]!;
  await api.send('patch', '', { our_team: our });
  const moves = [0, 1, 2].flatMap((round) =>
    Array.from({ length: 8 }, (_, k) => ({
      round: round + 1,
      captain: ranking[round === 1 ? 7 - k : k],
      invites: ranking[8 + 8 * round + k],
      answer: 'accepts'
    }))
  );
  const items = moves.map((body, k) => ({
    revision_id: v7(),
    record_id: v7(),
    parents: [],
    kind: 'selection',
    lamport: k + 1,
    made_at: '2031-05-17T11:00:00Z',
    body: { step: k + 1, ...body }
  }));
  await api.send('post', '/sync', { protocol: 1, device: v7(), items });

  await lead.reload();
  await expect(lead.getByText(/^Our alliance 1 wins the event with /)).toBeVisible();
  const { alliances } = await api.get<{ alliances: { teams: string[] }[] }>('/bracket');
  const squad = alliances.map((a) => a.teams);
  expect(squad[0]![0]).toBe(our);

  // Before anything is played: our sheet, three of four, and both that may follow.
  const next = lead.getByRole('region', { name: 'Our next match: P1' });
  await expect(next.getByText(/^Play .* sits out\./)).toBeVisible();
  await expect(next.getByText(/Defend/).first()).toBeVisible();
  await expect(lead.getByRole('region', { name: 'If we win: P7' })).toContainText('against alliance');
  await expect(lead.getByRole('region', { name: 'If we lose: P5' })).toContainText('of turn-round');
  // A switch moves the forecast.
  await next.getByText('What if …').click();
  await next.getByRole('checkbox', { name: 'stops' }).first().check();
  await expect(next.getByText(/→/).first()).toBeVisible();
  await check(lead, 'the bracket before the first game');

  // P1 by hand: who sits out and why, a time-out, a tie all the way, then the replay, lost.
  const entry = lead.getByRole('region', { name: 'Enter a game' });
  await entry.getByRole('button', { name: 'P1', exact: true }).click();
  const sits = / (\S+) sits out\./.exec((await next.getByText(/^Play .* sits out\./).textContent())!)![1]!;
  await entry.getByLabel(`Why ${sits} sits out`).fill('drive broken', { timeout: 15_000 });
  await entry.getByRole('checkbox', { name: 'Blue took a time-out' }).check();
  await entry.getByRole('button', { name: 'Put P1 on the schedule' }).click();
  const type = async (red: number[], blue: number[]) => {
    for (const [i, name] of ['Score', 'autonomous', 'finish'].entries())
      for (const [side, values] of [
        ['red', red],
        ['blue', blue]
      ] as const)
        await entry
          .getByRole('textbox', { name: new RegExp(`^${name}, ${side}$`, 'i') })
          .fill(String(values[i]));
    await entry.getByRole('button', { name: /^Save the (result|correction)$/ }).click();
  };
  await type([80, 21, 14], [80, 21, 14]);
  await expect(entry.getByText('80 to 80, and all that decides is equal: it is played again.')).toBeVisible();
  await entry.getByRole('button', { name: 'It was played again' }).click();
  await type([70, 20, 10], [90, 20, 10]);
  await expect(entry.getByText('Blue wins, 90 to 70.')).toBeVisible();

  // One loss: we are in the lower bracket, and the drawing says so.
  await expect(lead.getByRole('region', { name: 'Our next match: P5' })).toBeVisible();
  await expect(lead.getByRole('region', { name: 'Kept of each match' })).toContainText(
    `Alliance 8 took a time-out.`
  );
  await expect(lead.getByRole('region', { name: 'Kept of each match' })).toContainText(
    `${sits} sat out (drive broken).`
  );

  // P4 by hand with a backup robot from outside.
  await entry.getByRole('button', { name: 'P4', exact: true }).click();
  const third = squad[2]![2]!;
  await entry.getByRole('checkbox', { name: `${third} plays` }).uncheck();
  await entry.getByRole('textbox', { name: 'Backup robot, red' }).fill(ranking[35]!);
  await entry.getByRole('button', { name: 'Put P4 on the schedule' }).click();
  await type([90, 20, 10], [70, 20, 10]);
  await expect(entry.getByText(`Alliance 3 had ${ranking[35]} as backup robot.`)).toBeVisible();

  // The others as a venue's file would bring them; P2 by the tie order.
  const won = [90, 20, 10];
  const lost = [70, 20, 10];
  const course: [string, number, number, number[], number[]][] = [
    ['P2', 4, 5, [80, 21, 0], [80, 18, 40]],
    ['P3', 2, 7, won, lost],
    ['P5', 1, 5, won, lost],
    ['P6', 7, 6, won, lost],
    ['P7', 8, 4, lost, won],
    ['P8', 2, 3, won, lost],
    ['P9', 8, 7, won, lost],
    ['P10', 3, 1, lost, won],
    ['P11', 4, 2, won, lost],
    ['P12', 1, 8, won, lost],
    ['P13', 2, 1, lost, won],
    ['F1', 4, 1, won, lost],
    ['F2', 4, 1, lost, won]
  ];
  const { matches } = await api.get<{ matches: unknown[] }>('/matches');
  const side = (alliance: number, [score, autonomous, finish]: number[]): Side => ({
    teams: squad[alliance - 1]!.slice(0, 3),
    result: { score: score!, components: { autonomous: autonomous!, finish: finish! } }
  });
  await api.send('put', '/matches', {
    matches: [
      ...matches,
      ...course.map(([match, red, blue, r, b]) => ({
        match,
        play: 1,
        starts_at: '0001-01-01T00:00:00Z',
        red: side(red, r),
        blue: side(blue, b)
      }))
    ]
  });
  await lead.reload();
  const last = lead.getByRole('region', { name: 'Our next match: F3' });
  await expect(last).toContainText('It takes 2 wins; it stands 1 to 1.');
  await expect(lead.getByRole('region', { name: 'If we win' })).toContainText('We are champion.');
  await expect(lead.getByRole('region', { name: 'If we lose' })).toContainText('We end 2nd.');

  // The third game of the final by hand, decided by the tie order, for us.
  await entry.getByRole('button', { name: 'F3', exact: true }).click();
  await entry.getByRole('button', { name: 'Put F3 on the schedule' }).click();
  await type([60, 12, 30], [60, 13, 0]);
  await expect(entry.getByText('60 to 60: Autonomous decides, blue wins.')).toBeVisible();
  await expect(lead.getByText('We are champion.')).toBeVisible();
  await check(lead, 'the bracket at the end');

  // Looked back upon, with the picks.
  await lead.getByRole('link', { name: 'After the event' }).click();
  await expect(lead.getByText(/^We won .* forecast matches/)).toBeVisible();
  await expect(lead.getByText(/We played in alliance 1 and ended at place 1\./)).toBeVisible();
  await expect(lead.getByRole('region', { name: 'Our picks in hindsight' })).toContainText('pick 3');
  await check(lead, 'the report');

  // What was learned goes on to the next event of the season (here the same one).
  const [file] = await Promise.all([
    lead.waitForEvent('download'),
    lead.getByRole('button', { name: 'Estimates for the next event' }).click()
  ]);
  await lead.goto(`${path}/set-up?part=files`);
  await lead.getByRole('button', { name: 'Estimates of an earlier event' }).click();
  await expect(lead.getByText('Nothing is known from an earlier event.')).toBeVisible();
  await lead.locator('input[type=file]').setInputFiles(await file.path());
  await lead.getByRole('button', { name: 'Start from it' }).click();
  await expect(lead.getByText(/The analysis starts from an earlier event: it knew \d+ robots/)).toBeVisible();
  await check(lead, 'earlier estimates');
});

/** An event of any game of testdata/games with one scheduled match, and a scout who stands before its form. */
import { expect, type Page } from '@playwright/test';
import { joinEvent, makeCode, ready, testdata } from './fixtures';

/** Q1 in an order of stations; as many robots an alliance as the game has. */
export const RED = ['40117', '40123', '40102'];
export const BLUE = ['40131', '40109', '40140'];

/** Makes an event of the game over the API, without teams and matches, and returns its path. */
export async function bareEvent(lead: Page, name: string, file: string): Promise<string> {
  const game = JSON.parse(testdata(`games/${file}`)) as object;
  const made = await lead.request.post('/api/events', { data: { name, zone: 'Europe/Berlin', game } });
  expect(made.status(), await made.text()).toBe(201);
  return `/e/${((await made.json()) as { event_id: string }).event_id}`;
}

/** Takes a table over, given as lines of CSV. */
export async function takeTable(lead: Page, path: string, table: string, lines: string[]): Promise<void> {
  const answer = await lead.request.post(`/api${path.replace('/e/', '/events/')}/import?table=${table}`, {
    headers: { 'content-type': 'text/csv' },
    data: [...lines, ''].join('\n')
  });
  expect(answer.ok(), await answer.text()).toBe(true);
}

/** A team list with invented names. */
export const teamList = (teams: string[]): string[] => ['team,name', ...teams.map((t) => `${t},Crew ${t}`)];

/** Makes the event with its robots and two matches, and returns its path. */
export async function gameEvent(lead: Page, name: string, file: string): Promise<string> {
  const path = await bareEvent(lead, name, file);
  const n = (JSON.parse(testdata(`games/${file}`)) as { alliance: { robots: number } }).alliance.robots;
  const [red, blue] = [RED.slice(0, n), BLUE.slice(0, n)];
  await takeTable(lead, path, 'teams', teamList([...red, ...blue]));
  const rows = ['Q1', 'Q2'].flatMap((q) => [`${q},red,${red.join(' ')}`, `${q},blue,${blue.join(' ')}`]);
  await takeTable(lead, path, 'matches', ['match,alliance,teams', ...rows]);
  return path;
}

/** A scout who has joined and could go on without a network. */
export async function scoutOf(lead: Page, page: Page, path: string, nickname: string): Promise<void> {
  await joinEvent(page, await makeCode(lead, path), nickname);
  await ready(page);
}

/** The observations that the server has, by scout. */
export async function stored(lead: Page, path: string): Promise<Record<string, unknown>[]> {
  const answer = await lead.request.get(`/api${path.replace('/e/', '/events/')}/records?kind=observation`);
  const { records } = (await answer.json()) as { records: { body: Record<string, unknown> }[] };
  return records.map((r) => r.body).toSorted((a, b) => String(a.scout).localeCompare(String(b.scout)));
}

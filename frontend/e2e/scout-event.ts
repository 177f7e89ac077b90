/** An event of any game of testdata/games with one scheduled match, and a scout who stands before its form. */
import type { Page } from '@playwright/test';
import { apiOf, bareEvent, joinEvent, makeCode, ready, takeTable, testdata } from './fixtures';

/** Q1 in an order of stations; as many robots an alliance as the game has. */
export const RED = ['40117', '40123', '40102'];
export const BLUE = ['40131', '40109', '40140'];

/** A team list with invented names. */
export const teamList = (teams: string[]): string[] => ['team,name', ...teams.map((t) => `${t},Crew ${t}`)];

/** Makes the event with its robots and two matches, and returns its path. */
export async function gameEvent(lead: Page, name: string, file: string): Promise<string> {
  const path = await bareEvent(lead, { name, game: file });
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
  const answer = await lead.request.get(`${apiOf(path)}/records?kind=observation`);
  const { records } = (await answer.json()) as { records: { body: Record<string, unknown> }[] };
  return records.map((r) => r.body).toSorted((a, b) => String(a.scout).localeCompare(String(b.scout)));
}

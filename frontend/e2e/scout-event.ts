/** An event of any game of testdata/games with one scheduled match, and a scout who stands before its form. */
import { expect, type Page } from '@playwright/test';
import { joinEvent, makeCode, ready, testdata } from './fixtures';

/** Q1 in an order of stations; as many robots an alliance as the game has. */
export const RED = ['40117', '40123', '40102'];
export const BLUE = ['40131', '40109', '40140'];

/** Makes the event over the API and returns its path. */
export async function gameEvent(lead: Page, name: string, file: string): Promise<string> {
  const game = JSON.parse(testdata(`games/${file}`)) as { alliance: { robots: number } };
  const made = await lead.request.post('/api/events', { data: { name, zone: 'Europe/Berlin', game } });
  expect(made.status(), await made.text()).toBe(201);
  const { event_id: id } = (await made.json()) as { event_id: string };
  const n = game.alliance.robots;
  const table = async (table: string, data: string) => {
    const answer = await lead.request.post(`/api/events/${id}/import?table=${table}`, {
      headers: { 'content-type': 'text/csv' },
      data
    });
    expect(answer.ok(), await answer.text()).toBe(true);
  };
  const teams = [...RED.slice(0, n), ...BLUE.slice(0, n)];
  await table('teams', ['team,name', ...teams.map((t) => `${t},Crew ${t}`), ''].join('\n'));
  const rows = ['Q1', 'Q2'].flatMap((q) => [
    `${q},red,${RED.slice(0, n).join(' ')}`,
    `${q},blue,${BLUE.slice(0, n).join(' ')}`
  ]);
  await table('matches', ['match,alliance,teams', ...rows, ''].join('\n'));
  return `/e/${id}`;
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

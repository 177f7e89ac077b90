/** The real app and the real server, and between them a network that cuts, delays, repeats and reorders. */
import { expect, joinEvent, makeCode, makeEvent, tablet, test } from './fixtures';
import type { Revision } from '../src/lib/api';
import { allSent, asText, feedOf, record, takeUp } from './recorder';
import { roughBefore } from './rough';

test('every record arrives once, whatever the network does', async ({ lead, device, server }) => {
  const path = await makeEvent(lead, 'Rough network');
  const code = await makeCode(lead, path);
  const rough = await roughBefore(server.url, 7);
  const scout = await device({ ...tablet, baseURL: rough.url });
  await joinEvent(scout, code, 'ida');
  await expect(scout.getByRole('link', { name: /41 / }).first()).toBeVisible();

  // In each round something new is saved, and older records are saved once more as corrections.
  const made: Revision[] = [];
  for (let round = 0; round < 30; round++) {
    const matches = Array.from({ length: 6 }, (_, i) => [`Q${((round * 4 + i) % 90) + 1}`, '41'] as const);
    const before = rough.sent();
    made.push(...(await record(scout, path, matches)));
    await takeUp(scout);
    // So that the network has something to spoil in each round.
    await expect.poll(rough.sent, { intervals: [50] }).toBeGreaterThan(before);
  }
  expect(made).toHaveLength(180);
  rough.calm();
  await allSent(scout, 30_000);
  await expect(scout.getByRole('status').filter({ hasText: 'Everything is stored' })).toBeVisible();
  console.log('the network', rough.did);
  for (const happened of Object.values(rough.did)) expect(happened).toBeGreaterThan(0);
  expect(asText(await feedOf(lead, path))).toEqual(asText(made));
  rough.close();
});

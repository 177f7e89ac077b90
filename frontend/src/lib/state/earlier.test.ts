import 'fake-indexeddb/auto';
import { open } from '$lib/offline';
import { expect, test } from 'vitest';
import { keepEarlier, readEarlier } from './earlier';

test('the last answer of an earlier day is kept, that of today is not', async () => {
  const db = await open('earlier');
  const put = (data_no: number, at: string) =>
    db.put('bundle', { event: 'e', name: 'estimates', value: { data_no }, at });
  const kept = async () => (await readEarlier(db, 'e'))?.estimates.data_no;

  await keepEarlier(db, 'e', 'UTC', new Date('2031-03-07T08:00:00Z'));
  expect(await kept()).toBeUndefined();

  await put(7, '2031-03-06T17:00:00Z');
  await keepEarlier(db, 'e', 'UTC', new Date('2031-03-06T18:00:00Z'));
  expect(await kept()).toBeUndefined();
  await keepEarlier(db, 'e', 'UTC', new Date('2031-03-07T08:00:00Z'));
  expect(await kept()).toBe(7);

  // Of the day itself: the earlier one stays, all day long.
  await put(9, '2031-03-07T09:00:00Z');
  await keepEarlier(db, 'e', 'UTC', new Date('2031-03-07T22:00:00Z'));
  expect(await kept()).toBe(7);
  // In the zone of the event the day has already changed.
  await keepEarlier(db, 'e', 'Asia/Tokyo', new Date('2031-03-07T22:00:00Z'));
  expect(await kept()).toBe(9);
  // A clock that went back keeps nothing.
  await put(11, '2031-03-09T09:00:00Z');
  await keepEarlier(db, 'e', 'UTC', new Date('2031-03-08T09:00:00Z'));
  expect(await kept()).toBe(9);
});

import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { refresh } from './bundle';
import { open, type DB } from './db';

let db: DB;
let tail: Promise<unknown>;

beforeEach(async () => {
  vi.useFakeTimers({ toFake: ['Date'], now: 1_000 });
  db = await open(crypto.randomUUID());
  tail = Promise.resolve();
  // A lock that is given to one after the other, a millisecond later each.
  const request = (_: string, work: () => Promise<unknown>) => {
    const turn = tail.then(() => {
      vi.setSystemTime(Date.now() + 1);
      return work();
    });
    tail = turn.catch(() => undefined);
    return turn;
  };
  vi.stubGlobal('navigator', { locks: { request } });
});
afterEach(() => {
  vi.unstubAllGlobals();
  vi.useRealTimers();
  db.close();
});

/** A server whose answer is another each time. */
function server() {
  const seen = { asked: 0 };
  const answer = () => Promise.resolve({ value: { n: ++seen.asked }, status: 200, etag: `"${seen.asked}"` });
  return { seen, answer };
}

test('of tabs that ask at once the first fetches, and all have its answer', async () => {
  const { seen, answer } = server();
  const renewed = await Promise.all([1, 2, 3].map(() => refresh(db, 'e', 'estimates', answer)));
  expect(renewed).toEqual([true, true, true]);
  expect(seen.asked).toBe(1);
  // Another event, another thing, and whoever asks later, ask by themselves.
  await refresh(db, 'f', 'estimates', answer);
  await refresh(db, 'e', 'forecasts', answer);
  await refresh(db, 'e', 'estimates', answer);
  expect(seen.asked).toBe(4);
  expect((await db.get('bundle', ['e', 'estimates']))?.value).toEqual({ n: 4 });
});

test('an answer that failed is asked for again, and so is one from a clock that was ahead', async () => {
  const { seen, answer } = server();
  const fails = () => Promise.reject(new Error('no answer'));
  const two = await Promise.allSettled([
    refresh(db, 'e', 'estimates', fails),
    refresh(db, 'e', 'estimates', answer)
  ]);
  expect(two.map((r) => r.status)).toEqual(['rejected', 'fulfilled']);
  expect(seen.asked).toBe(1);
  vi.setSystemTime(0);
  await refresh(db, 'e', 'estimates', answer);
  expect(seen.asked).toBe(2);
});

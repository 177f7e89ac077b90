import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { refresh } from './bundle';
import { open, type DB } from './db';

let db: DB;

/** Locks as a browser has them: one alone, or many that share, in the order in which they come. */
function locks() {
  let alone = false;
  let shared = 0;
  const queue: (() => boolean)[] = [];
  const next = () => {
    while (queue[0]?.()) queue.shift();
  };
  return async (
    _name: string,
    options: { mode?: 'shared'; ifAvailable?: boolean },
    work: (lock: object | null) => unknown
  ): Promise<unknown> => {
    const many = options.mode === 'shared';
    const free = () => !alone && (many || shared === 0);
    if (options.ifAvailable && (queue.length > 0 || !free())) return work(null);
    await new Promise<void>((resolve) => {
      queue.push(() => {
        if (!free()) return false;
        if (many) shared++;
        else alone = true;
        vi.setSystemTime(Date.now() + 1); // nothing happens in no time
        resolve();
        return true;
      });
      next();
    });
    try {
      return await work({});
    } finally {
      if (many) shared--;
      else alone = false;
      next();
    }
  };
}

beforeEach(async () => {
  vi.useFakeTimers({ toFake: ['Date'], now: 1_000 });
  db = await open(crypto.randomUUID());
  vi.stubGlobal('navigator', { locks: { request: locks() } });
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
  expect(renewed.map((r) => [r.another, r.bundle?.value])).toEqual([1, 2, 3].map(() => [true, { n: 1 }]));
  expect(seen.asked).toBe(1);
  // Another event, another thing, and whoever asks later, ask by themselves.
  await refresh(db, 'f', 'estimates', answer);
  await refresh(db, 'e', 'forecasts', answer);
  await refresh(db, 'e', 'estimates', answer);
  expect(seen.asked).toBe(4);
  expect((await db.get('bundle', ['e', 'estimates']))?.value).toEqual({ n: 4 });
});

test('an answer that was asked for after the news is new enough for all who heard of them', async () => {
  const { seen, answer } = server();
  const heard = Date.now();
  await refresh(db, 'e', 'estimates', answer, heard);
  vi.setSystemTime(Date.now() + 300); // a tab that is busy comes later
  const late = await refresh(db, 'e', 'estimates', answer, heard);
  expect(seen.asked).toBe(1);
  expect(late.bundle?.value).toEqual({ n: 1 });
  const news = await refresh(db, 'e', 'estimates', answer, Date.now());
  expect(seen.asked).toBe(2);
  expect(news.bundle?.value).toEqual({ n: 2 });
});

test('a tab that is busy with what it got holds up no other', async () => {
  const { seen, answer } = server();
  const since = Date.now();
  let busy: () => void = () => undefined;
  const drawing = new Promise<void>((resolve) => (busy = resolve));
  const first = refresh(db, 'e', 'estimates', answer, since);
  // Reads of this tab do not come back before it has drawn.
  const slow = {
    get: (...args: Parameters<DB['get']>) =>
      db.get(...args).then((read: unknown) => (read ? drawing.then(() => read) : read))
  } as unknown as DB;
  const second = refresh(slow, 'e', 'estimates', answer, since);
  const third = refresh(db, 'e', 'estimates', answer, since);
  expect((await Promise.all([first, third])).map((r) => r.bundle?.value)).toEqual([{ n: 1 }, { n: 1 }]);
  busy();
  expect((await second).bundle?.value).toEqual({ n: 1 });
  expect(seen.asked).toBe(1);
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

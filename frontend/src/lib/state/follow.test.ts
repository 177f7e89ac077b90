import { announce } from '$lib/offline';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { follow, type Following } from './follow';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

/** Follows with answers that are of the newest data or not, in turn; counts the looks. */
function watch(answers: boolean[] = [], following: Following = {}) {
  const seen = { looks: 0, since: 0 };
  const look = (since: number) => {
    seen.since = since;
    return Promise.resolve(answers[seen.looks++] ?? true);
  };
  return { seen, end: follow('e', look, following) };
}

const analysed = (what?: string, heard = Date.now()) => announce({ event: 'e', analysed: { what, heard } });

test('looks at once, when an analysis is done, and by itself if it is not told of one', async () => {
  const { seen, end } = watch();
  await vi.advanceTimersByTimeAsync(0);
  expect(seen.looks).toBe(1);
  announce({ event: 'e', kinds: ['result'] });
  announce({ event: 'e', kinds: ['observation'] });
  await vi.advanceTimersByTimeAsync(1499);
  expect(seen.looks).toBe(1);
  await vi.advanceTimersByTimeAsync(1);
  expect(seen.looks).toBe(2);
  analysed();
  await vi.advanceTimersByTimeAsync(0);
  expect(seen.looks).toBe(3);
  end();
  analysed();
  await vi.advanceTimersByTimeAsync(60_000);
  expect(seen.looks).toBe(3);
});

test('what nobody waits for lets others go first', async () => {
  let looks = 0;
  const end = follow('e', () => Promise.resolve(++looks > 0), { patience: 3_000 });
  await vi.advanceTimersByTimeAsync(0);
  analysed();
  await vi.advanceTimersByTimeAsync(2_999);
  expect(looks).toBe(1);
  await vi.advanceTimersByTimeAsync(1);
  expect(looks).toBe(2);
  end();
});

test('changes that nothing hangs on, of other events, or not yet sent, are left alone', async () => {
  const { seen, end } = watch();
  await vi.advanceTimersByTimeAsync(0);
  announce({ event: 'e', kinds: ['note'] });
  announce({ event: 'other', kinds: ['result'] });
  announce({ event: 'e', kinds: ['result'], outbox: true });
  await vi.advanceTimersByTimeAsync(60_000);
  expect(seen.looks).toBe(1);
  announce({ event: 'e', outbox: true });
  await vi.advanceTimersByTimeAsync(1500);
  expect(seen.looks).toBe(2);
  end();
});

test('asks again, ever later, until the answer is of the newest data', async () => {
  const { seen, end } = watch([false, false, true]);
  await vi.advanceTimersByTimeAsync(0);
  await vi.advanceTimersByTimeAsync(500);
  expect(seen.looks).toBe(2);
  await vi.advanceTimersByTimeAsync(999);
  expect(seen.looks).toBe(2);
  await vi.advanceTimersByTimeAsync(1);
  expect(seen.looks).toBe(3);
  await vi.advanceTimersByTimeAsync(60_000);
  expect(seen.looks).toBe(3);
  end();
});

test('looks at what it hangs on, and at everything if the server does not say what it made', async () => {
  const { seen, end } = watch([], { on: ['standings'] });
  await vi.advanceTimersByTimeAsync(0);
  analysed('estimates');
  analysed('truth');
  await vi.advanceTimersByTimeAsync(1_000);
  expect(seen.looks).toBe(1);
  analysed('standings');
  await vi.advanceTimersByTimeAsync(0);
  expect(seen.looks).toBe(2);
  analysed();
  await vi.advanceTimersByTimeAsync(0);
  expect(seen.looks).toBe(3);
  end();
});

test('an answer is new enough that was asked for after the news was heard, by whatever tab', async () => {
  const { seen, end } = watch([true, false]);
  await vi.advanceTimersByTimeAsync(0);
  const heard = Date.now();
  await vi.advanceTimersByTimeAsync(40); // on its way to this tab
  analysed('estimates', heard);
  await vi.advanceTimersByTimeAsync(0);
  expect(seen.since).toBe(heard);
  // What is asked for again because it was not the newest must be asked for anew.
  await vi.advanceTimersByTimeAsync(500);
  expect(seen.looks).toBe(3);
  expect(seen.since).toBe(heard + 540);
  end();
});

import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { Held, HOLD_MS } from './held';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

test('records of others show with the estimates that follow from them, or after a while without', async () => {
  const done: string[] = [];
  const held = new Held<string>((kinds, ids, also) => {
    done.push(`${kinds.join()}: ${ids.join()}`);
    also?.();
    return Promise.resolve();
  });
  held.add(['observation'], ['a']);
  held.add(['observation', 'result'], ['a', 'b']);
  await vi.advanceTimersByTimeAsync(HOLD_MS - 1);
  expect(done).toEqual([]);
  await held.release(() => done.push('estimates'));
  expect(done).toEqual(['observation,result: a,b', 'estimates']);
  // Nothing waits any more, and estimates alone do not wait for anything.
  await vi.advanceTimersByTimeAsync(HOLD_MS);
  await held.release(() => done.push('newer ones'));
  expect(done.splice(0)).toEqual(['observation,result: a,b', 'estimates', 'newer ones']);
  held.add(['mark'], ['c']);
  await vi.advanceTimersByTimeAsync(HOLD_MS);
  expect(done).toEqual(['mark: c']);
});

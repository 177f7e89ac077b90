import { describe, expect, it } from 'vitest';
import type { Advice, AdviseRequest, Knowledge } from '$lib/api';
import { Reckoner } from './reckon';

/** A worker that does what a test says. */
class Fake extends EventTarget {
  sent: { id: number; known?: unknown; question: unknown }[] = [];
  ended = false;
  postMessage(message: never) {
    this.sent.push(message);
  }
  terminate() {
    this.ended = true;
  }
  say(data: unknown) {
    this.dispatchEvent(new MessageEvent('message', { data }));
  }
}

const known = { places: [1] } as unknown as Knowledge;
const question = { our: '40101' } as AdviseRequest;
const advice = (runs: number) => ({ runs }) as Advice;

function setUp() {
  const workers: Fake[] = [];
  const reckoner = new Reckoner(() => {
    workers.push(new Fake());
    return workers.at(-1) as unknown as Worker;
  });
  const got: number[] = [];
  const stop = new AbortController();
  const ask = () => reckoner.ask(known, question, (a) => got.push(a.runs), stop.signal);
  return { workers, ask, got, stop };
}

describe('telling worths on this device', () => {
  it('hands over each batch until the last', async () => {
    const { workers, ask, got } = setUp();
    const done = ask();
    workers[0]?.say({ id: 1, advice: advice(32), done: false });
    workers[0]?.say({ id: 1, advice: advice(96), done: true });
    await done;
    workers[0]?.say({ id: 1, advice: advice(500), done: true });
    expect(got).toEqual([32, 96]);
  });

  it('sends what is known once', async () => {
    const { workers, ask } = setUp();
    for (const id of [1, 2]) {
      const done = ask();
      workers[0]?.say({ id, done: true });
      await done;
    }
    expect(workers[0]?.sent).toEqual([
      { id: 1, known, question },
      { id: 2, known: undefined, question }
    ]);
  });

  it('lets a later question end the one before', async () => {
    const { workers, ask, got } = setUp();
    const first = ask();
    const second = ask();
    workers[0]?.say({ id: 1, advice: advice(1), done: false });
    workers[0]?.say({ id: 2, advice: advice(2), done: true });
    await Promise.all([first, second]);
    expect(got).toEqual([1, 2]);
  });

  it('ends with the signal', async () => {
    const { workers, ask, got, stop } = setUp();
    const done = ask();
    stop.abort();
    await done;
    workers[0]?.say({ id: 1, advice: advice(32), done: true });
    expect(got).toEqual([]);
  });

  it('says why there is none, and starts anew with the next question', async () => {
    const { workers, ask } = setUp();
    const refused = ask();
    workers[0]?.say({ id: 1, error: 'nothing is known of the robots', done: true });
    await expect(refused).rejects.toThrow('nothing is known');
    const broken = ask();
    workers[1]?.dispatchEvent(new Event('error'));
    await expect(broken).rejects.toThrow('cannot tell worths');
    expect(workers.map((w) => w.ended)).toEqual([true, true]);
    expect(workers[1]?.sent[0]?.known).toEqual(known);
  });
});

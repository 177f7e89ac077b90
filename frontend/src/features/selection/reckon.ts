// What calls are worth, told by this device when the server does not answer:
// the server's own engine in a worker (static/wasm/worth.js), with what the
// server last said is known of the robots.

import type { Advice, AdviseRequest, Knowledge } from '$lib/api';

interface Reply {
  id: number;
  advice?: Advice;
  error?: string;
  done: boolean;
}

export class Reckoner {
  readonly #make: () => Worker;
  #worker: Worker | undefined;
  #known: Knowledge | undefined;
  #last = 0;

  constructor(make: () => Worker = () => new Worker('/wasm/worth.js')) {
    this.#make = make;
  }

  /** Calls advice for each batch of worlds, until it is good enough or the signal ends it. Rejects with why there is none. */
  ask(
    known: Knowledge,
    question: AdviseRequest,
    advice: (value: Advice) => void,
    signal: AbortSignal
  ): Promise<void> {
    const id = ++this.#last;
    const worker = (this.#worker ??= this.#make());
    return new Promise((resolve, reject) => {
      const end = (error?: Error) => {
        worker.removeEventListener('message', hear);
        worker.removeEventListener('error', broken);
        signal.removeEventListener('abort', stop);
        if (error) reject(error);
        else resolve();
      };
      const hear = ({ data }: MessageEvent<Reply>) => {
        // A later question has taken the worker over.
        if (data.id > id) return end();
        if (data.id < id) return;
        if (data.advice) advice(data.advice);
        if (data.error) {
          this.close(); // it starts anew with the next question
          return end(new Error(data.error));
        }
        if (data.done) end();
      };
      const broken = () => {
        this.close();
        end(new Error('This device cannot tell worths by itself.'));
      };
      const stop = () => end();
      worker.addEventListener('message', hear);
      worker.addEventListener('error', broken);
      signal.addEventListener('abort', stop);
      if (signal.aborted) return end();
      worker.postMessage({ id, known: this.#known === known ? undefined : known, question });
      this.#known = known;
    });
  }

  /** Ends the worker. */
  close(): void {
    this.#worker?.terminate();
    this.#worker = undefined;
    this.#known = undefined;
  }
}

/** Keeps the worker's program on this device, so that it is there without a network. */
export async function keepProgram(): Promise<void> {
  if (!('serviceWorker' in navigator)) return;
  const { active } = await navigator.serviceWorker.ready;
  active?.postMessage('keep-worth');
}

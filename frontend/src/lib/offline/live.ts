/**
 * The server's hints that something changed: one stream per browser, held by
 * whichever tab has the lock (HTTP/1.1 allows six connections to a host). The
 * other tabs learn through the local database.
 */
import { changesAddress } from '../api';

const FIRST_WAIT_MS = 2_000;
const LONGEST_WAIT_MS = 60_000;

/**
 * Calls hint at each change and whenever the stream opens again, and analysed when
 * the server has finished an analysis, with what it was; returns the way to stop.
 */
export function listen(
  event: string,
  hint: () => void,
  analysed: (what?: string) => void = () => {}
): () => void {
  const stop = new AbortController();
  const { signal } = stop;
  const hold = () =>
    new Promise<void>((resolve) => {
      const close = stream(event, hint, analysed);
      signal.addEventListener('abort', () => {
        close();
        resolve();
      });
    });
  if (typeof navigator !== 'undefined' && navigator.locks) {
    navigator.locks.request(`sextant-live-${event}`, { signal }, hold).catch(() => undefined); // stopped while waiting
  } else {
    void hold();
  }
  return () => stop.abort();
}

function stream(event: string, hint: () => void, analysed: (what?: string) => void): () => void {
  let source: EventSource | undefined;
  let timer: ReturnType<typeof setTimeout> | undefined;
  let wait = FIRST_WAIT_MS;
  const open = () => {
    source = new EventSource(changesAddress(event));
    source.onopen = () => {
      wait = FIRST_WAIT_MS;
      hint();
    };
    source.addEventListener('change', hint);
    source.addEventListener('analysis', (e: MessageEvent<string>) => analysed(whatOf(e.data)));
    source.onerror = () => {
      // The browser tries again by itself, unless the server refused.
      if (source?.readyState !== EventSource.CLOSED) return;
      timer = setTimeout(open, wait);
      wait = Math.min(LONGEST_WAIT_MS, wait * 2);
    };
  };
  open();
  return () => {
    clearTimeout(timer);
    source?.close();
  };
}

/** What an analysis is of; undefined: it does not say. */
function whatOf(data: string): string | undefined {
  return (JSON.parse(data) as { what?: string }).what;
}

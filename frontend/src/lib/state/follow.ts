/** Looks again whenever something changed that an analysis hangs on, and while one is being made. */
import { onChange } from '$lib/offline';

/** Changes come in bursts; one look after the burst is enough. */
const SETTLE_MS = 250;
/** How long to wait for an answer that is being computed, at first and at most. */
const FIRST_WAIT_MS = 500;
const LONGEST_WAIT_MS = 10_000;

const moves = new Set(['observation', 'result', 'mark', 'training', 'judgement']);

/** Calls look now and at each change, and again until it says that what it got is of the newest data. */
export function follow(event: string, look: () => Promise<boolean>): () => void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  let wait = FIRST_WAIT_MS;
  let stopped = false;
  let running = false;
  let again = false;

  const run = async () => {
    if (running) {
      again = true;
      return;
    }
    running = true;
    again = false;
    const newest = await look();
    running = false;
    if (stopped) return;
    if (again) {
      soon(0);
    } else if (newest) {
      wait = FIRST_WAIT_MS;
    } else {
      soon(wait);
      wait = Math.min(LONGEST_WAIT_MS, wait * 2);
    }
  };
  const soon = (after: number) => {
    clearTimeout(timer);
    timer = setTimeout(() => void run(), after);
  };

  const end = onChange((change) => {
    if (change.event !== event) return;
    const moved =
      change.kinds?.some((k) => moves.has(k)) ||
      change.bundles?.some((b) => b === 'game' || b === 'schedule' || b === 'event');
    // What was entered here is not on the server yet; the feed brings it back.
    // Sent: the outbox changed and nothing else did.
    if ((moved && !change.outbox) || (change.outbox && !change.kinds)) {
      wait = FIRST_WAIT_MS;
      soon(SETTLE_MS);
    }
    if (change.analysed) soon(0);
  });
  soon(0);
  return () => {
    stopped = true;
    end();
    clearTimeout(timer);
  };
}

/** Looks again whenever something changed that an analysis hangs on, and while one is being made. */
import { onChange } from '$lib/offline';

/**
 * The server tells when what hangs on a change is made. Looking before that would
 * only fetch what is known to be old, while it is busy; so look by oneself only if
 * it does not tell.
 */
const UNTOLD_MS = 1_500;
/** How long to wait for an answer that is being computed, at first and at most. */
const FIRST_WAIT_MS = 500;
const LONGEST_WAIT_MS = 10_000;

const moves = new Set(['observation', 'result', 'mark', 'training', 'judgement']);

/**
 * Calls look now, patience (in milliseconds) after an analysis is done, and some time
 * after each change, and again until it says that what it got is of the newest data.
 */
export function follow(event: string, look: () => Promise<boolean>, patience = 0): () => void {
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
      soon(UNTOLD_MS);
    }
    if (change.analysed) soon(patience);
  });
  soon(0);
  return () => {
    stopped = true;
    end();
    clearTimeout(timer);
  };
}

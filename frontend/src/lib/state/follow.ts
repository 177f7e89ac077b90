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

/** Kinds of records that estimates are made of. */
export const moves: ReadonlySet<string> = new Set(['observation', 'result', 'mark', 'training', 'judgement']);

export interface Following {
  /** What it hangs on of all that the server tells of; missing: on the estimates. */
  on?: readonly string[];
  /** How long, in milliseconds, to let others go first. */
  patience?: number;
}

/**
 * Calls look now, when an analysis that it hangs on is done, and some time after each
 * change, and again until it says that what it got is of the newest data. look is told
 * since when an answer must have been asked for to be new enough (milliseconds of this
 * device's clock).
 */
export function follow(
  event: string,
  look: (since: number) => Promise<boolean>,
  { on = ['estimates'], patience = 0 }: Following = {}
): () => void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  let wait = FIRST_WAIT_MS;
  let stopped = false;
  let running = false;
  let again = false;
  /** When this browser heard of what was not looked at yet. */
  let heard: number | undefined;

  const run = async () => {
    if (running) {
      again = true;
      return;
    }
    running = true;
    again = false;
    const since = heard ?? Date.now();
    heard = undefined;
    const newest = await look(since);
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
      heard = undefined; // what was heard before is older than this
      soon(UNTOLD_MS);
    }
    const what = change.analysed?.what;
    if (change.analysed && (what === undefined || on.includes(what))) {
      heard = change.analysed.heard;
      soon(patience);
    }
  });
  soon(0);
  return () => {
    stopped = true;
    end();
    clearTimeout(timer);
  };
}

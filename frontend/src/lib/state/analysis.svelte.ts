/** Estimates and forecasts of one event: the kept ones at once, newer ones when the server has them. */
import type { Estimates, Forecasts, Judgements } from '$lib/api';
import { announce, onChange, refresh, type DB } from '$lib/offline';

const NAMES = ['estimates', 'forecasts', 'judgements'] as const;
/** Changes come in bursts; one look after the burst is enough. */
const SETTLE_MS = 250;
/** How long to wait for an answer that is being computed, at first and at most. */
const FIRST_WAIT_MS = 500;
const LONGEST_WAIT_MS = 10_000;

export class Analysis {
  estimates = $state.raw<Estimates | undefined>();
  forecasts = $state.raw<Forecasts | undefined>();
  /** Who is best at what scouts judged all robots of a match by. */
  judgements = $state.raw<Judgements | undefined>();
  /** When each was last known to be the server's answer (ISO time of this device). */
  estimatesAt = $state.raw<string | undefined>();
  forecastsAt = $state.raw<string | undefined>();
  /** Why the last look failed; what is shown may be old. */
  failed = $state.raw<unknown>();
  /** The local copy was read. */
  read = $state(false);

  readonly #event: string;
  #timer: ReturnType<typeof setTimeout> | undefined;
  #wait = FIRST_WAIT_MS;

  constructor(event: string) {
    this.#event = event;
  }

  /** Reads what is kept and looks for newer answers at each change; returns the way to stop. */
  start(db: DB): () => void {
    const moves = new Set(['observation', 'result', 'mark', 'training', 'judgement']);
    const end = onChange((change) => {
      if (change.event !== this.#event) return;
      if (NAMES.some((n) => change.bundles?.includes(n))) void this.#read(db);
      const moved =
        change.kinds?.some((k) => moves.has(k)) ||
        change.bundles?.some((b) => b === 'game' || b === 'schedule');
      // What was entered here is not on the server yet; the feed brings it back.
      if (moved && !change.outbox) this.#look(db, SETTLE_MS);
      // Sent: the outbox changed and nothing else did.
      if (change.outbox && !change.kinds) this.#look(db, SETTLE_MS);
    });
    void this.#read(db).then(() => this.#look(db, 0));
    return () => {
      end();
      clearTimeout(this.#timer);
    };
  }

  async #read(db: DB): Promise<void> {
    const [estimates, forecasts, judgements] = await Promise.all(
      NAMES.map((name) => db.get('bundle', [this.#event, name]))
    );
    this.estimates = estimates?.value as Estimates | undefined;
    this.estimatesAt = estimates?.at;
    this.forecasts = forecasts?.value as Forecasts | undefined;
    this.forecastsAt = forecasts?.at;
    this.judgements = judgements?.value as Judgements | undefined;
    this.read = true;
  }

  #look(db: DB, after: number): void {
    clearTimeout(this.#timer);
    if (after <= SETTLE_MS) this.#wait = FIRST_WAIT_MS;
    this.#timer = setTimeout(() => void this.#fetch(db), after);
  }

  async #fetch(db: DB): Promise<void> {
    try {
      for (const name of NAMES) {
        if (await refresh(db, this.#event, name)) announce({ event: this.#event, bundles: [name] });
      }
      await this.#read(db);
      this.failed = undefined;
      if (this.estimates?.current !== false && this.forecasts?.current !== false) {
        this.#wait = FIRST_WAIT_MS;
        return;
      }
    } catch (error) {
      this.failed = error;
    }
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => void this.#fetch(db), this.#wait);
    this.#wait = Math.min(LONGEST_WAIT_MS, this.#wait * 2);
  }
}

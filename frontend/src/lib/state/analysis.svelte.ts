/** Estimates and forecasts of one event: the kept ones at once, newer ones when the server has them. */
import type { Estimates, EventSummary, Forecasts, Judgements } from '$lib/api';
import { announce, kept, onChange, refresh, type DB } from '$lib/offline';
import { keepEarlier } from './earlier';
import { follow } from './follow';

const NAMES = ['estimates', 'forecasts', 'judgements'] as const;
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

  constructor(event: string) {
    this.#event = event;
  }

  /** Reads what is kept and looks for newer answers at each change; returns the way to stop. */
  start(db: DB): () => void {
    const end = onChange((change) => {
      if (change.event === this.#event && NAMES.some((n) => change.bundles?.includes(n))) void this.#read(db);
    });
    const done = follow(this.#event, () => this.#fetch(db));
    void this.#read(db);
    return () => {
      end();
      done();
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

  /** Says whether the answers are of the newest data. */
  async #fetch(db: DB): Promise<boolean> {
    try {
      const zone = (await kept<EventSummary>(db, this.#event, 'event'))?.zone ?? 'UTC';
      await keepEarlier(db, this.#event, zone, new Date());
      const renewed = await Promise.all(NAMES.map((name) => refresh(db, this.#event, name)));
      const bundles = NAMES.filter((_, i) => renewed[i]);
      await this.#read(db);
      if (bundles.length > 0) announce({ event: this.#event, bundles });
      this.failed = undefined;
    } catch (error) {
      this.failed = error;
      return false;
    }
    return this.estimates?.current !== false && this.forecasts?.current !== false;
  }
}

/** Estimates and forecasts of one event: the kept ones at once, newer ones when the server has them. */
import type { Estimates, EventSummary, Forecasts, Judgements } from '$lib/api';
import { day, knownTime } from '$lib/figures';
import { kept, onChange, refresh, type Bundle, type DB } from '$lib/offline';
import { keepEarlier } from './earlier';
import { follow } from './follow';

const NAMES = ['estimates', 'forecasts', 'judgements'] as const;

/** Calls show in the moment in which the records are set that the estimates are of. */
type Together = (show: () => void) => Promise<void>;

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
  /** Newer ones are looked for: this is a lead's or a coach's device. */
  followed = false;
  /** The local copy was read. */
  read = $state(false);

  readonly #etags: { [name in (typeof NAMES)[number]]?: string } = {};
  readonly #event: string;

  constructor(event: string) {
    this.#event = event;
  }

  /** Reads what is kept and looks for newer answers at each change; returns the way to stop. */
  start(db: DB, together: Together): () => void {
    this.followed = true;
    const end = onChange((change) => {
      if (change.event === this.#event && NAMES.some((n) => change.bundles?.includes(n))) void this.#read(db);
    });
    const done = follow(this.#event, (since) => this.#look(db, since, together));
    void this.#read(db);
    return () => {
      this.followed = false;
      end();
      done();
    };
  }

  async #read(db: DB): Promise<void> {
    const read = await Promise.all(NAMES.map((name) => db.get('bundle', [this.#event, name])));
    NAMES.forEach((name, i) => this.#show(name, read[i]));
    this.read = true;
  }

  /** The same answer again moves nothing on the screen but its age. */
  #show(name: (typeof NAMES)[number], bundle: Bundle | undefined): void {
    if (name === 'estimates') this.estimatesAt = bundle?.at;
    if (name === 'forecasts') this.forecastsAt = bundle?.at;
    if (bundle?.etag && bundle.etag === this.#etags[name]) return;
    this.#etags[name] = bundle?.etag;
    if (name === 'estimates') this.estimates = bundle?.value as Estimates | undefined;
    if (name === 'forecasts') this.forecasts = bundle?.value as Forecasts | undefined;
    if (name === 'judgements') this.judgements = bundle?.value as Judgements | undefined;
  }

  /** Says whether the answers are of the newest data. */
  async #look(db: DB, since: number, together: Together): Promise<boolean> {
    try {
      const zone = (await kept<EventSummary>(db, this.#event, 'event'))?.zone ?? 'UTC';
      const now = new Date();
      const at = knownTime(this.estimatesAt);
      if (!at || day(at, zone) !== day(now, zone)) await keepEarlier(db, this.#event, zone, now);
      const look = (name: (typeof NAMES)[number]) => refresh(db, this.#event, name, undefined, since);
      const judgements = look('judgements');
      judgements.catch(() => undefined); // told below
      const [estimates, forecasts] = await Promise.all([look('estimates'), look('forecasts')]);
      await together(() => {
        this.#show('estimates', estimates.bundle);
        this.#show('forecasts', forecasts.bundle);
      });
      this.#show('judgements', (await judgements).bundle);
      this.read = true;
      this.failed = undefined;
    } catch (error) {
      this.failed = error;
      return false;
    }
    return this.estimates?.current !== false && this.forecasts?.current !== false;
  }
}

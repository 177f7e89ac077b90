/** One event as this browser knows it: read from the local database, kept in step with the server. */
import { getContext, setContext } from 'svelte';
import type { Bodies, EventSummary, Kind, Match, ResultBody, Revision, Role, Team } from '$lib/api';
import type { Game } from '$lib/game/types';
import {
  announce,
  database,
  everyday,
  isMerged,
  kept,
  listen,
  meta,
  onChange,
  rivals,
  same,
  save,
  sayFull,
  setMeta,
  Sync,
  takeIn,
  takeOver,
  type BundleName,
  type Change,
  type DB,
  type Person,
  type Status,
  type StoredRecord,
  type Thing
} from '$lib/offline';
import { Analysis } from './analysis.svelte';
import { keepBriefs } from './briefs';
import { moves } from './follow';
import { Held } from './held';
import { withResults } from './matches';
import { withRecords } from './records';
import { reuser } from './reuse';
import { device } from './session.svelte';

const KINDS: Kind[] = [
  'observation',
  'result',
  'mark',
  'list',
  'entry',
  'note',
  'question',
  'training',
  'judgement',
  'selection',
  'agreement',
  'debrief',
  'sketch',
  'rota',
  'seat',
  'pit',
  'playoff',
  'pin',
  'rehearsal'
];

/** More than so many records at once are read with all others of their kinds. */
const FEW = 200;

/** The records of one kind: who shows another kind is not told when these change. */
class OfKind {
  all = $state.raw<StoredRecord[]>([]);
  readonly bodies = $derived(this.all.map((r) => r.body));
}

/** A record with its body typed by its kind. */
export type Entered<K extends Kind> = Omit<StoredRecord, 'body'> & { body: Bodies[K] };

/** Who gave out what was taken over from another device, and when, by that device's clock. */
export interface Given {
  by: string;
  at: string;
}

export class EventState {
  readonly id: string;

  /** The local copy was read: what is still undefined was never fetched. */
  read = $state(false);
  summary = $state.raw<EventSummary | undefined>();
  game = $state.raw<Game | undefined>();
  teams = $state.raw<Team[]>([]);
  /** The plan as the server has it; for matches with what was entered here see `matches`. */
  schedule = $state.raw<Match[]>([]);
  /** What was fetched at least once: an empty list of anything else means "not known", not "none". */
  fetched = $state.raw<ReadonlySet<BundleName>>(new Set());
  status = $state.raw<Status>({ link: 'starting', waiting: 0, refused: 0, others: [] });
  /** Whose word this device goes by since it heard from the server last; undefined: the server's. */
  given = $state.raw<Given | undefined>();
  readonly #reuse = reuser();
  readonly #records = Object.fromEntries(KINDS.map((kind) => [kind, new OfKind()])) as Record<Kind, OfKind>;
  /** Reads of records go one after the other: what was read first must not be set last. */
  #reading: Promise<unknown> = Promise.resolve();
  readonly #held = new Held<Kind>((kinds, ids, also) => this.#readRecords(kinds, ids, also));

  readonly role = $derived<Role | undefined>(this.summary?.role);
  readonly ourTeam = $derived(this.summary?.our_team || undefined);
  /** The schedule with results, in playing order; every play. */
  readonly matches = $derived(withResults(this.schedule, this.bodies('result') as ResultBody[], this.#reuse));
  readonly teamNames = $derived(new Map(this.teams.map((t) => [t.team, t.name])));

  /** Estimates and forecasts; for lead and coach. */
  readonly analysis: Analysis;

  #db: DB | undefined;
  #sync: Sync | undefined;
  #ends: (() => void)[] = [];
  #stopped = false;

  constructor(id: string) {
    this.id = id;
    this.analysis = new Analysis(id);
  }

  /** Reads the local database, then starts keeping in step. Throws if the browser has no database for us. */
  async start(): Promise<void> {
    const db = (this.#db = await database());
    await Promise.all([...everyday.map((name) => this.#readBundle(name)), this.#readRecords(KINDS)]);
    this.given = await meta<Given>(this.#givenAt);
    this.read = true;

    this.#ends.push(
      onChange((change) => {
        if (change.event !== this.id) return;
        const kinds = KINDS.filter((k) => change.kinds?.includes(k));
        const estimated = this.analysis.followed && kinds.some((k) => moves.has(k));
        if (estimated && !change.outbox && change.records) this.#held.add(kinds, change.records);
        else if (kinds.length > 0) void this.#readRecords(kinds, change.records);
        for (const name of everyday) if (change.bundles?.includes(name)) void this.#readBundle(name);
        if (change.full) this.status = { ...this.status, link: 'full', reason: sayFull() };
        if (change.outbox) void this.#sync?.count();
      })
    );
    this.#sync = new Sync({
      db,
      event: this.id,
      device: await device(),
      member: () => this.summary?.member_id,
      nickname: () => this.summary?.nickname,
      status: (status) => {
        this.status = status;
        if (status.link === 'fine' && this.given) void this.#setGiven(undefined);
      }
    });
    this.#ends.push(() => this.#sync?.stop());
    for (const [target, name] of [
      [window, 'online'],
      [window, 'focus'],
      [document, 'visibilitychange']
    ] as const) {
      const look = () => document.visibilityState === 'visible' && void this.sync();
      target.addEventListener(name, look);
      this.#ends.push(() => target.removeEventListener(name, look));
    }
    await this.#sync.count();
    // The first answer says who we are; only then may anything be sent.
    void this.sync().then(() => {
      if (this.#stopped) return;
      this.#ends.push(
        listen(
          this.id,
          () => void this.sync(),
          (what) => announce({ event: this.id, analysed: { what, heard: Date.now() } })
        )
      );
      if (this.role === 'lead' || this.role === 'coach')
        this.#ends.push(
          this.analysis.start(db, (show) => this.#held.release(show)),
          keepBriefs(this)
        );
    });
  }

  stop(): void {
    this.#stopped = true;
    this.#held.stop();
    for (const end of this.#ends.splice(0)) end();
  }

  /** Sends and fetches now. */
  sync(): Promise<void> {
    return this.#sync?.kick() ?? Promise.resolve();
  }

  /** All records of a kind. */
  records<K extends Kind>(kind: K): Entered<K>[] {
    return this.#records[kind].all as unknown as Entered<K>[];
  }

  /** The bodies that count of all records of a kind. */
  bodies<K extends Kind>(kind: K): Bodies[K][] {
    return this.#records[kind].bodies as unknown as Bodies[K][];
  }

  record<K extends Kind>(kind: K, id: string): Entered<K> | undefined {
    return this.records(kind).find((r) => r.record_id === id);
  }

  /** A record of any kind. */
  find(id: string): StoredRecord | undefined {
    for (const kind of KINDS) {
      const found = this.#records[kind].all.find((r) => r.record_id === id);
      if (found) return found;
    }
    return undefined;
  }

  /** Records of which two versions disagree, but for those that do not count and those that say the same. */
  disagreeing(): StoredRecord[] {
    return KINDS.flatMap((kind) => this.#records[kind].all).filter((r) => {
      // Of a robot that two people moved on a drawing, the place that shows can be moved again.
      if (!r.conflict || r.body.discarded || r.body.removed || r.kind === 'sketch') return false;
      const [first, ...others] = rivals(r.revisions);
      return isMerged(r.kind) || others.some((o) => !same(o.body, first?.body));
    });
  }

  /** Ids of all revisions that are on this device. */
  revisionIds(): Set<string> {
    const all = KINDS.flatMap((kind) => this.#records[kind].all);
    return new Set(all.flatMap((r) => r.revisions.map((v) => v.revision_id)));
  }

  /** Saves changes on this device, all or none, and sends them as soon as there is a network. */
  async save(...changes: Change[]): Promise<void> {
    if (!this.#db || !this.summary)
      throw new Error('This event was not loaded yet, so nothing can be saved.');
    const { member_id, nickname, role } = this.summary;
    const person: Person = { member_id, nickname, role };
    await save(this.#db, this.id, person, await device(), changes);
    const kinds = [...new Set(changes.map((c) => c.kind))];
    const records = changes.map((c) => c.recordId);
    await this.#readRecords(kinds, records);
    announce({ event: this.id, kinds, records, outbox: true });
    void this.sync();
  }

  /** Takes in what came by a file from a tablet, and sends it. Returns how many revisions were new. */
  async takeIn(revisions: Revision[]): Promise<number> {
    if (!this.#db || !this.summary)
      throw new Error('This event was not loaded yet, so nothing can be taken in.');
    const { member_id, nickname, role } = this.summary;
    const taken = await takeIn(this.#db, this.id, { member_id, nickname, role }, revisions);
    const kinds = KINDS.filter((k) => revisions.some((r) => r.kind === k));
    await this.#readRecords(kinds);
    announce({ event: this.id, kinds, outbox: true });
    void this.sync();
    return taken;
  }

  /** Takes over what a lead gave out, to be read here. Returns how much of it was new. */
  async takeOver(
    revisions: Revision[],
    things: Thing[],
    given: Given
  ): Promise<{ revisions: number; bundles: string[] }> {
    if (!this.#db) throw new Error('This event was not loaded yet, so nothing can be taken in.');
    const taken = await takeOver(this.#db, this.id, revisions, things);
    if (this.status.link !== 'fine' && !(this.given && this.given.at >= given.at))
      await this.#setGiven(given);
    announce({ event: this.id, kinds: taken.kinds, bundles: taken.bundles, outbox: true });
    return taken;
  }

  get #givenAt(): string {
    return `given/${this.id}`;
  }

  async #setGiven(given: Given | undefined): Promise<void> {
    this.given = given;
    await setMeta(this.#givenAt, given);
  }

  async #readBundle(name: BundleName): Promise<void> {
    if (!this.#db) return;
    const value = await kept(this.#db, this.id, name);
    if (value === undefined) return;
    if (!this.fetched.has(name)) this.fetched = new Set([...this.fetched, name]);
    if (name === 'event') this.summary = value as EventSummary;
    if (name === 'game') this.game = value as Game;
    if (name === 'teams') this.teams = value as Team[];
    if (name === 'schedule') this.schedule = value as Match[];
  }

  /** Reads the records with these ids, which are of these kinds, without ids all of them; then calls also. */
  #readRecords(kinds: Kind[], ids?: string[], also?: () => void): Promise<void> {
    const next = this.#reading
      .catch(() => undefined)
      .then(() => (ids && ids.length <= FEW ? this.#readSome(kinds, ids) : this.#readAll(kinds)))
      .then(
        (set) => {
          set();
          also?.();
        },
        (error: unknown) => {
          also?.();
          throw error;
        }
      );
    this.#reading = next;
    return next;
  }

  async #readAll(kinds: Kind[]): Promise<() => void> {
    const db = this.#db;
    if (!db) return () => undefined;
    const read = await Promise.all(
      kinds.map((kind) => db.getAllFromIndex('records', 'kind', [this.id, kind]))
    );
    return () => kinds.forEach((kind, i) => (this.#records[kind].all = read[i] ?? []));
  }

  async #readSome(kinds: Kind[], ids: string[]): Promise<() => void> {
    const db = this.#db;
    if (!db) return () => undefined;
    const read = await Promise.all(ids.map((id) => db.get('records', [this.id, id])));
    return () => {
      for (const kind of kinds) {
        const those = read.filter((r) => r?.kind === kind) as StoredRecord[];
        if (those.length > 0) this.#records[kind].all = withRecords(this.#records[kind].all, those);
      }
    };
  }
}

const key = Symbol('event');

/** Gives the event to the screens below; the shell does. */
export const setEvent = (event: () => EventState): void => {
  setContext(key, event);
};

/** The event of this screen. */
export const useEvent = (): EventState => getContext<() => EventState>(key)();

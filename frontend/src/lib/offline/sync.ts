/** Keeps one event in step with the server: sends what is unsent, reads the feed. */
import {
  NoAnswer,
  Problem,
  PROTOCOL,
  sayError,
  sync as remote,
  type FeedAnswer,
  type SentRevision,
  type SyncAnswer
} from '../api';
import { exclusively } from './alone';
import { sendBlobs, unsentBlobs } from './blobs';
import { due, everyday, refresh } from './bundle';
import type { BundleName, DB, Unsent } from './db';
import { position, startOver, take } from './feed';
import { announce } from './notify';
import {
  adopt,
  nextToSend,
  rejoin,
  sendMissed,
  sent,
  setApart,
  settle,
  unsent,
  type Settled
} from './outbox';
import { inWords, isFull } from './storage';

export type Link =
  | 'starting' // nothing has been tried yet
  | 'working'
  | 'fine'
  | 'no-answer' // no network, or the server is away
  | 'signed-out'
  | 'full' // the disk of this device
  | 'outdated'; // app and server do not speak the same protocol

export interface Status {
  link: Link;
  /** Own records that wait to be sent. */
  waiting: number;
  /** Records that the server refused. */
  refused: number;
  /** Of those that wait: the device was signed out, and the server keeps them apart for the lead. */
  apart?: number;
  /** Pictures that are on this device alone; absent: not counted yet. */
  photos?: number;
  /** Records of others on this device: they wait for their authors. */
  others: { nickname: string; records: number }[];
  /** When the server last answered, in milliseconds of this device's clock. */
  heard?: number;
  /** What the server said when it refused the whole exchange. */
  reason?: string;
}

export interface Options {
  db: DB;
  event: string;
  device: string;
  /** The member whose session this browser has; undefined: not known yet. */
  member: () => string | undefined;
  /** That member's nickname. */
  nickname?: () => string | undefined;
  status: (status: Status) => void;
  send?: (event: string, device: string, items: SentRevision[]) => Promise<SyncAnswer>;
  read?: (event: string, after: number, limit: number) => Promise<FeedAnswer>;
  fetchBundle?: (db: DB, event: string, name: BundleName) => Promise<boolean>;
  random?: () => number;
}

const BATCH = 50;
const PAGE = 500;
/** Hints can be lost, so look by oneself now and then. */
const POLL_MS = 30_000;
const FIRST_WAIT_MS = 1_000;
const LONGEST_WAIT_MS = 60_000;

/** How long to wait after the n-th failure in a row: doubling, with jitter so that tablets do not come all at once. */
export function backOff(failures: number, random: () => number): number {
  const limit = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** Math.min(failures - 1, 10));
  return limit / 2 + (limit / 2) * random();
}

export class Sync {
  readonly #o: Required<Options>;
  #status: Status = { link: 'starting', waiting: 0, refused: 0, others: [] };
  #running: Promise<void> | undefined;
  #again = false;
  #failures = 0;
  #timer: ReturnType<typeof setTimeout> | undefined;
  #stopped = false;

  constructor(options: Options) {
    this.#o = {
      send: remote.send,
      read: remote.read,
      fetchBundle: async (db, event, name) => (await refresh(db, event, name)).another,
      random: Math.random,
      nickname: () => undefined,
      ...options
    };
  }

  /** Looks now: after a save, when the network is back, when the app comes to the front. */
  kick(): Promise<void> {
    if (this.#stopped) return Promise.resolve();
    this.#again = true;
    this.#running ??= this.#loop().finally(() => {
      this.#running = undefined;
    });
    return this.#running;
  }

  stop(): void {
    this.#stopped = true;
    clearTimeout(this.#timer);
  }

  /** Counts the outbox again and tells. */
  async count(): Promise<void> {
    const { db, event } = this.#o;
    const photos = await unsentBlobs(db, event);
    this.#say({ ...counts(await unsent(db, event), this.#o.member()), photos });
  }

  async #loop(): Promise<void> {
    clearTimeout(this.#timer);
    while (this.#again && !this.#stopped) {
      this.#again = false;
      await exclusively(`sextant-sync-${this.#o.event}`, () => this.#once());
    }
    if (this.#stopped) return;
    const wait = this.#failures ? backOff(this.#failures, this.#o.random) : POLL_MS;
    this.#timer = setTimeout(() => void this.kick(), wait);
  }

  async #once(): Promise<void> {
    await this.count();
    this.#say({ link: this.#status.link === 'starting' ? 'starting' : 'working' });
    try {
      await this.#push();
      await sendBlobs(this.#o.db, this.#o.event);
      await this.#pull();
      const member = this.#o.member();
      if (member !== undefined && (await rejoin(this.#o.db, this.#o.event, member))) this.#again = true;
      this.#failures = 0;
      this.#say({ link: 'fine', heard: Date.now(), reason: undefined });
    } catch (error) {
      this.#failures++;
      // A fault of our own (a full disk) must not end the loop: say it, go on trying.
      const ours = !(error instanceof NoAnswer);
      if (ours && !(error instanceof Problem)) console.error(error);
      this.#say({ link: linkOf(error), reason: ours ? sayError(inWords(error)) : undefined });
    } finally {
      await this.count();
    }
  }

  async #push(): Promise<void> {
    const { db, event, device } = this.#o;
    let limit = BATCH;
    const [joined, nickname] = [this.#o.member(), this.#o.nickname()];
    if (joined !== undefined && nickname) await adopt(db, event, joined, nickname);
    for (;;) {
      const member = this.#o.member();
      if (member === undefined) return;
      const batch = await nextToSend(db, event, member, limit);
      if (batch.length === 0) return;
      let settled: Settled[];
      try {
        settled = outcomes(batch, await this.#o.send(event, device, batch.map(sent)));
      } catch (error) {
        if (!(error instanceof Problem) || isOutdated(error)) throw error;
        if (error.type.endsWith('kept-apart')) {
          await setApart(db, batch);
          announce({ event, outbox: true });
          continue;
        }
        if (![400, 413, 422].includes(error.status)) throw error;
        // The batch as a whole was refused: find the one that is to blame.
        if (batch.length > 1) {
          limit = Math.floor(batch.length / 2);
          continue;
        }
        settled = batch.map((u) => ({ revision_id: u.revision_id, refused: error.message }));
      }
      await settle(db, settled);
      limit = BATCH; // one bad record must not slow down those behind it
      announce({ event, outbox: true });
      await this.count();
    }
  }

  async #pull(): Promise<void> {
    const { db, event } = this.#o;
    let startedOver = false;
    for (;;) {
      const after = await position(db, event);
      const page = await this.#o.read(event, after, PAGE);
      if (page.reset) {
        // Once is a restored back-up; again and again is a fault, to be retried slowly.
        if (startedOver) throw new NoAnswer('the server asks to start over again and again');
        startedOver = true;
        await startOver(db, event);
        this.#again = true; // what was queued again goes out in the next round
        continue;
      }
      if (PROTOCOL < page.protocol.min || PROTOCOL > page.protocol.max) {
        throw new Problem(422, {
          type: 'unknown-protocol',
          detail:
            'This app and the server do not speak the same protocol. Load the app again; what is unsent stays here.'
        });
      }
      const touched = await take(db, event, page.items, page.next);
      if (touched.kinds.size > 0) {
        // After starting over others may be gone.
        announce({
          event,
          kinds: [...touched.kinds],
          records: startedOver ? undefined : touched.records
        });
      }
      if (page.items.length === 0 || page.next <= after) break;
    }
    await sendMissed(db, event);
    for (const name of await due(db, event, everyday)) {
      if (await this.#o.fetchBundle(db, event, name)) announce({ event, bundles: [name] });
    }
  }

  #say(part: Partial<Status>): void {
    this.#status = { ...this.#status, ...part };
    if (!this.#stopped) this.#o.status(this.#status);
  }
}

/** App and server do not speak the same protocol; no record is to blame. */
const isOutdated = (error: Problem): boolean => error.type.endsWith('unknown-protocol');

function linkOf(error: unknown): Link {
  if (error instanceof Problem) {
    // 404: there is no such event, or one has no part in it any more.
    if ([401, 403, 404].includes(error.status)) return 'signed-out';
    if (isOutdated(error)) return 'outdated';
  }
  if (isFull(error)) return 'full';
  return 'no-answer';
}

/** What became of each revision of a batch. An item without an answer would be sent for ever. */
function outcomes(batch: Unsent[], answer: SyncAnswer): Settled[] {
  const said = new Map(answer.items.map((i) => [i.revision_id, i]));
  return batch.map(({ revision_id }) => {
    const item = said.get(revision_id);
    if (!item) throw new NoAnswer('the server did not say what became of a record');
    if (item.outcome !== 'refused') return { revision_id, stored: true };
    const { problem } = item;
    const places = problem?.errors?.map((e) => [e.pointer, e.message].filter(Boolean).join(': ')) ?? [];
    const words = [problem?.detail || problem?.title || 'The server gave no reason.', ...places];
    return { revision_id, refused: [...new Set(words)].join('\n') };
  });
}

export function counts(
  items: Unsent[],
  member: string | undefined
): Pick<Status, 'waiting' | 'refused' | 'apart' | 'others'> {
  const records = (of: Unsent[]) => new Set(of.map((u) => u.record_id)).size;
  const mine = items.filter((u) => u.member === member || member === undefined);
  const names = new Map<string, Unsent[]>();
  for (const u of items) {
    if (!mine.includes(u)) names.set(u.revision.author, [...(names.get(u.revision.author) ?? []), u]);
  }
  return {
    waiting: records(mine.filter((u) => u.refused === undefined)),
    refused: records(mine.filter((u) => u.refused !== undefined)),
    apart: records(mine.filter((u) => u.refused === undefined && u.apart)),
    others: [...names].map(([nickname, of]) => ({ nickname, records: records(of) }))
  };
}

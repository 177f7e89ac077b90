/** A server in memory that speaks the sync protocol, with the faults of a network; for tests. */
import {
  NoAnswer,
  Problem,
  type FeedAnswer,
  type FeedItem,
  type Role,
  type SentRevision,
  type SyncAnswer
} from '../api';

/** What becomes of a request; of one that hangs nobody ever hears, as when the tab is closed. */
export type Fault = 'none' | 'lost' | 'answer-lost' | 'hang-before' | 'hang-after';

export class FakeServer {
  /** What it keeps, in the order of change numbers. */
  feed: FeedItem[] = [];
  requests = 0;
  /** Decides what happens to the next request; default: it arrives and is answered. */
  fault: () => Fault = () => 'none';
  /** Called when a request was left hanging. */
  hung: () => void = () => undefined;
  /** Requests that arrived, to be delivered once more: a network may repeat and delay. */
  arrived: (() => void)[] = [];
  /** Why a revision is refused; undefined: it is taken. */
  refuse: (item: SentRevision) => string | undefined = () => undefined;
  /** Why the whole request is refused. */
  whole: (items: SentRevision[]) => { status: number; type?: string } | undefined = () => undefined;
  author = 'ana';
  /** Who the session of each device belongs to; others are the author's, a scout. */
  people = new Map<string, { author: string; role: Role }>();
  #last = 0;

  send = (_event: string, device: string, items: SentRevision[]): Promise<SyncAnswer> =>
    this.#request(() => {
      const no = this.whole(items);
      if (no)
        throw new Problem(no.status, { title: 'No', detail: `refused with ${no.status}`, type: no.type });
      const answer: SyncAnswer = {
        protocol: { min: 1, max: 1 },
        change_no: 0,
        items: items.map((item) => {
          const { revision_id } = item;
          if (this.feed.some((f) => f.revision?.revision_id === revision_id))
            return { revision_id, outcome: 'known' };
          const detail = this.refuse(item);
          if (detail) {
            const problem = { type: 'about:blank', title: 'No', status: 422, detail };
            return { revision_id, outcome: 'refused', problem };
          }
          const who = this.people.get(device) ?? { author: this.author, role: 'scout' as const };
          const { from, ...revision } = item;
          this.add('record', { ...revision, device_id: device, ...who, ...from });
          return { revision_id, outcome: 'stored' };
        })
      };
      return { ...answer, change_no: this.#last };
    });

  read = (_event: string, after: number, limit: number): Promise<FeedAnswer> =>
    this.#request(() => {
      const protocol = { min: 1, max: 1 };
      // A position that it never gave out: it was restored from a back-up.
      if (after > 0 && !this.feed.some((f) => f.change_no === after))
        return { protocol, items: [], next: 0, reset: true };
      const items = this.feed.filter((f) => f.change_no > after).slice(0, limit);
      return { protocol, items, next: items.at(-1)?.change_no ?? after };
    });

  add(kind: FeedItem['kind'], revision?: FeedItem['revision']): void {
    this.feed.push({ change_no: ++this.#last, kind, record_id: revision?.record_id, revision });
  }

  /** Comes back from a back-up that has the first n changes; the numbers that were given out since are never used again. */
  restore(n: number): void {
    this.feed = this.feed.slice(0, n);
    this.#last += 1_000_000;
  }

  /** Ids of the revisions it has. */
  get stored(): string[] {
    return this.feed.flatMap((f) => (f.revision ? [f.revision.revision_id] : []));
  }

  async #request<T>(work: () => T): Promise<T> {
    this.requests++;
    await Promise.resolve();
    const fault = this.fault();
    if (fault === 'lost') throw new NoAnswer('lost');
    if (fault === 'hang-before') return this.#hang();
    const answer = work();
    this.arrived.push(work);
    if (fault === 'hang-after') return this.#hang();
    if (fault === 'answer-lost') throw new NoAnswer('answer lost');
    return answer;
  }

  #hang(): Promise<never> {
    this.hung();
    return new Promise<never>(() => undefined);
  }
}

/** A server in memory that speaks the sync protocol, with the faults of a network; for tests. */
import {
  NoAnswer,
  Problem,
  type FeedAnswer,
  type FeedItem,
  type SentRevision,
  type SyncAnswer
} from '../api';

export class FakeServer {
  /** What it keeps, in the order of change numbers. */
  feed: FeedItem[] = [];
  requests = 0;
  /** Decides what happens to the next request; default: it arrives and is answered. */
  fault: () => 'none' | 'lost' | 'answer-lost' = () => 'none';
  /** Why a revision is refused; undefined: it is taken. */
  refuse: (item: SentRevision) => string | undefined = () => undefined;
  /** Why the whole request is refused. */
  whole: (items: SentRevision[]) => { status: number; type?: string } | undefined = () => undefined;
  author = 'ana';

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
          this.add('record', { ...item, author: this.author, role: 'scout', device_id: device });
          return { revision_id, outcome: 'stored' };
        })
      };
      return { ...answer, change_no: this.feed.length };
    });

  read = (_event: string, after: number, limit: number): Promise<FeedAnswer> =>
    this.#request(() => {
      const protocol = { min: 1, max: 1 };
      // A position that it never gave out: it was restored from a back-up.
      if (after > this.feed.length) return { protocol, items: [], next: 0, reset: true };
      const items = this.feed.filter((f) => f.change_no > after).slice(0, limit);
      return { protocol, items, next: items.at(-1)?.change_no ?? after };
    });

  add(kind: FeedItem['kind'], revision?: FeedItem['revision']): void {
    this.feed.push({ change_no: this.feed.length + 1, kind, record_id: revision?.record_id, revision });
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
    const answer = work();
    if (fault === 'answer-lost') throw new NoAnswer('answer lost');
    return answer;
  }
}

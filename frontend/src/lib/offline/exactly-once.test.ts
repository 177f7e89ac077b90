/**
 * Devices, a network that loses, repeats, delays and cuts, tabs that are closed
 * in the middle, a server that comes back from an older back-up: whatever the
 * order, in the end everybody has the same, each revision once. The model is
 * the plain set of what people saved.
 */
import { afterEach, describe, expect, it } from 'vitest';
import type { Revision, Role } from '../api';
import { open, type DB } from './db';
import { FakeServer, type Fault } from './fake-server';
import { newId, observationId } from './ids';
import { resolve } from './resolve';
import { save, unsent, type Person } from './outbox';
import { Sync, type Status } from './sync';

const event = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';

/** A small generator with a seed (mulberry32), so that a failure can be looked at again. */
function random(seed: number): () => number {
  return () => {
    seed = (seed + 0x6d2b79f5) | 0;
    let t = Math.imul(seed ^ (seed >>> 15), 1 | seed);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

const alive: Device[] = [];
afterEach(() => {
  for (const d of alive.splice(0)) d.close();
});

class Device {
  readonly name = `test-${newId()}`;
  readonly person: Person;
  db!: DB;
  status: Status | undefined;
  #sync!: Sync;

  constructor(
    readonly id: string,
    role: Role,
    readonly server: FakeServer
  ) {
    this.person = { member_id: `m-${id}`, nickname: id, role };
    server.people.set(id, { author: id, role });
    alive.push(this);
  }

  async open(): Promise<void> {
    this.db = await open(this.name);
    this.#sync = new Sync({
      db: this.db,
      event,
      device: this.id,
      member: () => this.person.member_id,
      nickname: () => this.person.nickname,
      status: (s) => (this.status = s),
      send: this.server.send,
      read: this.server.read,
      fetchBundle: () => Promise.resolve(false),
      random: () => 0.5
    });
  }

  close(): void {
    this.#sync.stop();
    this.db.close();
  }

  kick = () => this.#sync.kick();

  /** Sends, and is closed while a request hangs; whether it arrived nobody here knows. */
  async die(): Promise<void> {
    const hung = new Promise<void>((resolve) => (this.server.hung = resolve));
    await Promise.race([hung, this.kick()]);
    this.close();
    await this.open();
  }

  async write(recordId: string, body: object): Promise<string> {
    const [made] = await save(this.db, event, this.person, this.id, [
      { kind: 'observation', recordId, body: { ...body, note: newId() } }
    ]);
    return made!.revision_id;
  }
}

describe('exactly once', () => {
  it.each(Array.from({ length: 16 }, (_, i) => i + 1))('with seed %i', async (seed) => {
    const next = random(seed);
    const pick = <T>(of: T[]): T => of[Math.floor(next() * of.length)]!;
    const server = new FakeServer();
    const devices = [
      new Device('ana', 'scout', server),
      new Device('bo', 'scout', server),
      new Device('lead', 'lead', server)
    ];
    for (const d of devices) await d.open();
    const faults: Fault[] = ['none', 'none', 'lost', 'answer-lost'];
    server.fault = () => pick(faults);

    const saved: string[] = [];
    const reached = new Set<string>();
    for (let step = 0; step < 40; step++) {
      const d = pick(devices);
      const what = next();
      if (what < 0.45) {
        // All write the same few records, so that they disagree now and then.
        const match = `Q${Math.ceil(next() * 3)}`;
        const recordId = observationId(event, match, 1, '40117', 'ana');
        saved.push(await d.write(recordId, { match, team: '40117', scout: 'ana' }));
      } else if (what < 0.75) {
        await d.kick();
      } else if (what < 0.85) {
        const before = server.fault;
        server.fault = () => pick<Fault>(['none', 'hang-before', 'hang-after']);
        await d.die();
        server.fault = before;
      } else if (what < 0.95) {
        // A request that arrived before arrives again, whoever sent it.
        if (server.arrived.length > 0) pick(server.arrived)();
      } else {
        server.restore(Math.floor(server.feed.length * next()));
      }
      // Nothing leaves an outbox that never reached the server.
      for (const id of server.stored) reached.add(id);
      const waiting = new Set<string>();
      for (const x of devices) for (const u of await unsent(x.db, event)) waiting.add(u.revision_id);
      expect(saved.filter((id) => !waiting.has(id) && !reached.has(id))).toEqual([]);
    }

    server.fault = () => 'none';
    for (let round = 0; round < 3; round++) for (const d of devices) await d.kick();
    expect(server.stored.toSorted()).toEqual(saved.toSorted());

    const kept = new Map<string, Revision[]>();
    for (const { revision } of server.feed as { revision: Revision }[])
      kept.set(revision.record_id, [...(kept.get(revision.record_id) ?? []), revision]);
    for (const d of devices) {
      expect(await d.db.count('outbox'), d.id).toBe(0);
      expect(d.status).toMatchObject({ link: 'fine', waiting: 0, refused: 0, others: [] });
      const records = await d.db.getAll('records');
      expect(records.map((r) => r.record_id).toSorted()).toEqual([...kept.keys()].toSorted());
      for (const r of records) {
        const { head, heads, body, conflict } = resolve(kept.get(r.record_id)!);
        expect({ head: r.head, heads: r.heads, body: r.body, conflict: r.conflict }, d.id).toEqual({
          head,
          heads,
          body,
          conflict
        });
      }
    }
  });
});

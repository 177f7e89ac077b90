/** What an older version of the app left in the browser is still there under this one. */
import { readFileSync, readdirSync } from 'node:fs';
import { afterEach, describe, expect, it } from 'vitest';
import { open, type DB } from './db';
import { FakeServer } from './fake-server';
import { newId } from './ids';
import { tryAgain, unsent } from './outbox';
import { Sync } from './sync';

interface Fixture {
  version: number;
  stores: Record<
    string,
    {
      keyPath: string | string[] | null;
      indexes: Record<string, string | string[]>;
      rows: unknown[];
    }
  >;
}
const folder = 'src/lib/offline/testdata';
const fixtures = readdirSync(folder).map((file): [string, Fixture] => [
  file,
  JSON.parse(readFileSync(`${folder}/${file}`, 'utf8')) as Fixture
]);
const event = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';

let db: DB | undefined;
afterEach(() => db?.close());

/** Makes the database as that version made it, with nothing of today's code. */
function lay(name: string, { version, stores }: Fixture): Promise<void> {
  return new Promise((done, fail) => {
    const request = indexedDB.open(name, version);
    request.onupgradeneeded = () => {
      for (const [store, { keyPath, indexes, rows }] of Object.entries(stores)) {
        const made = request.result.createObjectStore(store, keyPath ? { keyPath } : undefined);
        for (const [index, path] of Object.entries(indexes)) made.createIndex(index, path);
        for (const row of rows) {
          if (keyPath) made.put(row);
          else made.put((row as [string, unknown])[1], (row as [string, unknown])[0]);
        }
      }
    };
    request.onerror = () => fail(request.error);
    request.onsuccess = () => {
      request.result.close();
      done();
    };
  });
}

describe.each(fixtures)('a database as %s has it', (_, fixture) => {
  it('keeps records, what is unsent, drafts and the name of the device', async () => {
    const name = `test-${newId()}`;
    await lay(name, fixture);
    db = await open(name);
    const record = await db.get('records', [event, '5b8e5d4a-0000-5000-8000-000000000001']);
    expect(record).toMatchObject({ conflict: false, body: { match: 'Q1', note: 'tips' } });
    expect(await db.getAllFromIndex('records', 'kind', [event, 'observation'])).toHaveLength(2);
    expect((await unsent(db, event)).map((u) => u.refused)).toEqual([undefined, 'Q2 is not in the schedule']);
    expect(await db.get('feed', event)).toMatchObject({ after: 17, lamport: 6 });
    expect(await db.get('bundle', [event, 'teams'])).toMatchObject({ value: [{ team: '40117' }] });
    expect(await db.get('meta', 'device')).toBe('d1');
    expect(await db.get('meta', `draft/${event}/Q3/1/40119`)).toMatchObject({ match: 'Q3' });
  });

  it('sends what waited there', async () => {
    const name = `test-${newId()}`;
    await lay(name, fixture);
    db = await open(name);
    await tryAgain(db, event);
    const server = new FakeServer();
    const sync = new Sync({
      db,
      event,
      device: 'd1',
      member: () => 'm-ana',
      status: () => undefined,
      send: server.send,
      read: server.read,
      fetchBundle: () => Promise.resolve(false)
    });
    await sync.kick();
    sync.stop();
    // This server never gave out the place in the feed, so all that was made here goes out.
    expect(server.stored.toSorted()).toEqual([1, 2, 3].map((n) => `01960000-0000-7000-8000-00000000000${n}`));
    expect(await unsent(db, event)).toEqual([]);
  });
});

describe('two versions in one browser', () => {
  it('lets a newer tab have the database, and then says so in words', async () => {
    const name = `test-${newId()}`;
    db = await open(name);
    const newer = await new Promise<IDBDatabase>((done, fail) => {
      const request = indexedDB.open(name, 1_000);
      request.onsuccess = () => done(request.result);
      request.onerror = () => fail(request.error);
    });
    await expect(open(name)).rejects.toThrow(/^A newer version of Sextant has kept records/);
    newer.close();
  });
});

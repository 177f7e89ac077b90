import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Problem, type Bodies } from '../api';
import { open, type DB } from './db';
import { FakeServer } from './fake-server';
import { newId, observationId } from './ids';
import { asFile, save, tryAgain, unsent, type Person } from './outbox';
import { backOff, Sync, type Status } from './sync';
import { sayUnsent } from './words';

const event = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';
const ana: Person = { member_id: 'm-ana', nickname: 'ana', role: 'scout' };
const bo: Person = { member_id: 'm-bo', nickname: 'bo', role: 'scout' };

let db: DB;
let name: string;
let server: FakeServer;
let status: Status;
const running: Sync[] = [];

beforeEach(async () => {
  name = `test-${newId()}`;
  db = await open(name);
  server = new FakeServer();
});
afterEach(() => {
  for (const s of running.splice(0)) s.stop();
  db.close();
});

function sync(member: string | undefined = ana.member_id, nickname?: string): Sync {
  const made = new Sync({
    db,
    event,
    device: 'd1',
    member: () => member,
    nickname: () => nickname,
    status: (s) => (status = s),
    send: server.send,
    read: server.read,
    fetchBundle: () => Promise.resolve(false),
    random: () => 0.5
  });
  running.push(made);
  return made;
}

function observe(match: string, person = ana, body: Partial<Bodies['observation']> = {}) {
  return save(db, event, person, 'd1', [
    {
      kind: 'observation',
      recordId: observationId(event, match, 1, '40117', person.nickname),
      body: { match, team: '40117', scout: person.nickname, ...body }
    }
  ]);
}

describe('saving', () => {
  it('puts record and outbox entry down together, built upon what was known', async () => {
    const [first] = await observe('Q1', ana, { note: 'a' });
    const [second] = await observe('Q1', ana, { note: 'b' });
    expect(second?.parents).toEqual([first?.revision_id]);
    expect(second?.lamport).toBe(2);
    const record = await db.get('records', [event, first!.record_id]);
    expect(record).toMatchObject({ head: second?.revision_id, conflict: false, body: { note: 'b' } });
    expect((await unsent(db, event)).map((u) => u.revision_id)).toEqual([
      first?.revision_id,
      second?.revision_id
    ]);
  });

  it('puts nothing down when one of several changes fails', async () => {
    const good = { kind: 'note' as const, recordId: newId(), body: { text: 'x' } };
    const circular: Record<string, unknown> = {};
    circular.text = circular;
    await expect(
      save(db, event, ana, 'd1', [good, { kind: 'note', recordId: newId(), body: circular }])
    ).rejects.toThrow();
    expect(await db.count('records')).toBe(0);
    expect(await db.count('outbox')).toBe(0);
    expect(await db.count('feed')).toBe(0);
  });
});

describe('sending', () => {
  it('empties the outbox after the server said that it has each', async () => {
    await observe('Q1');
    await observe('Q2');
    await sync().kick();
    expect(server.stored).toHaveLength(2);
    expect(await db.count('outbox')).toBe(0);
    expect(status).toMatchObject({ link: 'fine', waiting: 0 });
    expect(sayUnsent(status)).toBe('Everything is stored');
  });

  it('keeps everything while nobody answers, and says so in words', async () => {
    server.fault = () => 'lost';
    await observe('Q1');
    await observe('Q1', ana, { note: 'mended' });
    await observe('Q2');
    await sync().kick();
    expect(await db.count('outbox')).toBe(3);
    expect(sayUnsent(status)).toBe('2 records wait for a network');
  });

  it('keeps what is refused with the reason, sends the rest, and can try again', async () => {
    server.refuse = (item) =>
      (item.body as Bodies['observation']).match === 'Q1' ? 'Q1 is not in the schedule' : undefined;
    const [bad] = await observe('Q1');
    await observe('Q2');
    const s = sync();
    await s.kick();
    expect(server.stored).toHaveLength(1);
    const left = await unsent(db, event);
    expect(left).toMatchObject([{ revision_id: bad?.revision_id, refused: 'Q1 is not in the schedule' }]);
    expect(sayUnsent(status)).toBe('1 record was refused');
    expect(JSON.parse(asFile(left))).toEqual(bad);

    const before = server.requests;
    await s.kick();
    expect(server.requests - before).toBe(1); // only the feed: nothing is sent over and over
    server.refuse = () => undefined;
    await tryAgain(db, event);
    await s.kick();
    expect(await db.count('outbox')).toBe(0);
  });

  it('finds the one record for which the server refuses a whole batch', async () => {
    for (let i = 1; i <= 9; i++) await observe(`Q${i}`);
    server.whole = (items) =>
      items.some((i) => (i.body as Bodies['observation']).match === 'Q5') ? { status: 422 } : undefined;
    await sync().kick();
    expect(server.stored).toHaveLength(8);
    expect(await unsent(db, event)).toMatchObject([
      { revision: { body: { match: 'Q5' } }, refused: 'refused with 422' }
    ]);
    expect(status).toMatchObject({ waiting: 0, refused: 1 });
  });

  it('counts photos that are on this device alone', async () => {
    const photo = { event, sha256: 'a1', media: 'image/png', bytes: new ArrayBuffer(1) };
    await db.put('blobs', photo);
    await sync().count();
    expect(status.photos).toBe(0);
    await db.put('blobs', { ...photo, sha256: 'b2', unsent: event });
    await sync().count();
    expect(status.photos).toBe(1);
  });

  it('sends whole batches again once the bad record is found', async () => {
    for (let i = 1; i <= 9; i++) await observe(`Q${i}`);
    const sizes: number[] = [];
    server.whole = (items) => {
      sizes.push(items.length);
      return items.some((i) => (i.body as Bodies['observation']).match === 'Q1')
        ? { status: 422 }
        : undefined;
    };
    await sync().kick();
    expect(sizes).toEqual([9, 4, 2, 1, 8]);
    expect(server.stored).toHaveLength(8);
    expect(status).toMatchObject({ waiting: 0, refused: 1 });
  });

  it('leaves records of others for their authors', async () => {
    await observe('Q1', bo);
    await observe('Q2', ana);
    await sync(ana.member_id).kick();
    expect(server.stored).toHaveLength(1);
    expect(sayUnsent(status)).toBe('1 record of bo waits until bo joins here again');
    await sync(bo.member_id).kick();
    expect(server.stored).toHaveLength(2);
  });

  it('sends what is left of somebody who was taken out and joined again', async () => {
    await observe('Q1', bo);
    await observe('Q2', ana);
    await sync('m-bo-again', 'bo').kick();
    expect(server.feed.map((f) => (f.revision?.body as Bodies['observation']).match)).toEqual(['Q1']);
    expect(await unsent(db, event)).toMatchObject([{ member: ana.member_id }]);
    expect(status.waiting).toBe(0);
  });

  it('keeps the queue when the session has ended', async () => {
    await observe('Q1');
    server.whole = () => ({ status: 401 });
    await sync().kick();
    expect(sayUnsent(status)).toBe('1 record waits until you join again');
    server.whole = () => undefined;
    await sync().kick();
    expect(server.stored).toHaveLength(1);
  });
});

describe('a device that the lead signed out', () => {
  it('sends each record once, to be kept apart, keeps all of it, and sends it again once it is in', async () => {
    for (let n = 1; n <= 60; n++) await observe(`Q${n}`);
    const apart: string[] = [];
    server.whole = (items) => {
      apart.push(...items.map((i) => i.revision_id));
      return { status: 403, type: '/api/docs#problem-kept-apart' };
    };
    const read = server.read;
    server.read = () => Promise.reject(new Problem(401, { title: 'Not signed in' }));
    const s = sync();
    await s.kick();
    await s.kick();
    expect(apart).toHaveLength(60);
    expect(await unsent(db, event)).toHaveLength(60);
    expect(status).toMatchObject({ link: 'signed-out', waiting: 60, apart: 60 });
    expect(sayUnsent(status)).toBe('60 records wait here until your lead accepts them');

    server.whole = () => undefined;
    server.read = read;
    await sync().kick();
    expect(server.stored).toHaveLength(60);
    expect(await unsent(db, event)).toEqual([]);
  });
});

describe('an app that is too old or too new', () => {
  it('refuses no record for it', async () => {
    await observe('Q1');
    server.whole = () => ({ status: 422, type: '/api/docs#unknown-protocol' });
    await sync().kick();
    expect(status).toMatchObject({ link: 'outdated', waiting: 1, refused: 0 });
    expect(sayUnsent(status)).toBe('1 record waits until this app is updated');
  });
});

describe('reading the feed', () => {
  it('takes in what others did and keeps its place', async () => {
    const other = {
      revision_id: newId(),
      record_id: newId(),
      parents: [],
      kind: 'note' as const,
      lamport: 41,
      author: 'lead',
      role: 'lead' as const,
      device_id: 'd9',
      made_at: '2031-03-06T09:00:00Z',
      body: { text: 'look' }
    };
    server.add('record', other);
    server.add('teams');
    await db.put('bundle', { event, name: 'teams', value: [], at: '' });
    await sync().kick();
    expect(await db.get('records', [event, other.record_id])).toMatchObject({ body: { text: 'look' } });
    expect(await db.get('bundle', [event, 'teams'])).toMatchObject({ stale: true });
    expect(await db.get('feed', event)).toMatchObject({ after: 2, lamport: 41 });
    const [mine] = await observe('Q1');
    expect(mine?.lamport).toBe(42);
  });

  it('after a restored back-up starts over and gives back what was made here', async () => {
    const [a] = await observe('Q1');
    await sync().kick();
    server.add('record', {
      ...server.feed[0]!.revision!,
      revision_id: newId(),
      record_id: newId(),
      author: 'x'
    });
    await sync().kick();
    expect(await db.count('records')).toBe(2);

    server.feed = [];
    await sync().kick();
    expect(server.stored).toEqual([a?.revision_id]);
    expect(await db.count('outbox')).toBe(0);
    expect((await db.getAll('records')).map((r) => r.record_id)).toEqual([a?.record_id]);
  });
});

describe('backOff', () => {
  it('doubles up to a minute, and jitters', () => {
    expect([1, 2, 3, 7, 20].map((n) => backOff(n, () => 1))).toEqual([1000, 2000, 4000, 60_000, 60_000]);
    expect(backOff(3, () => 0)).toBe(2000);
  });
});

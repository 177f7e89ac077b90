import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { open, type DB } from './db';
import { FakeServer } from './fake-server';
import { fromFile } from './file';
import { newId, observationId } from './ids';
import { asFile, save, takeIn, unsent, type Person } from './outbox';
import { Sync } from './sync';

const event = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';
const ana: Person = { member_id: 'm-ana', nickname: 'ana', role: 'scout' };
const lead: Person = { member_id: 'm-lead', nickname: 'lead', role: 'lead' };

let tablet: DB;
let laptop: DB;
beforeEach(async () => {
  tablet = await open(`test-${newId()}`);
  laptop = await open(`test-${newId()}`);
});
afterEach(() => {
  tablet.close();
  laptop.close();
});

const write = (match: string, note: string) =>
  save(tablet, event, ana, 'd1', [
    {
      kind: 'observation',
      recordId: observationId(event, match, 1, '40117', 'ana'),
      body: { match, team: '40117', scout: 'ana', note }
    }
  ]);
const nothing = () => false;

describe('the file of a tablet', () => {
  it('is read as it was saved, in one piece or twice', async () => {
    const made = [...(await write('Q1', 'a')), ...(await write('Q1', 'b')), ...(await write('Q2', 'c'))];
    const text = asFile(await unsent(tablet, event));
    expect(fromFile(text, event, nothing)).toEqual({ revisions: made, problems: [] });
    expect(fromFile(`${text}\n${text}`, event, nothing).revisions).toEqual(made);
  });

  it('says line by line what cannot be taken in, and takes the rest', async () => {
    await write('Q1', 'a');
    const good = asFile(await unsent(tablet, event)).trim();
    const other = JSON.stringify({ ...JSON.parse(good), revision_id: newId(), record_id: newId() });
    const orphan = JSON.stringify({ ...JSON.parse(good), revision_id: newId(), parents: [newId()] });
    const text = [good.slice(0, 40), good, '{"revision_id": 5}', 'null', other, '', orphan].join('\n');
    const { revisions, problems } = fromFile(text, event, nothing);
    expect(revisions).toHaveLength(1);
    expect(problems.map((p) => [p.line, p.message.split(':')[0]])).toEqual([
      [1, 'this is not a line of JSON'],
      [3, 'this is not a record that a tablet saved'],
      [4, 'this is not a record that a tablet saved'],
      [5, 'this record is of another event'],
      [7, 'this corrects a record that is not here']
    ]);
    expect(fromFile(orphan, event, () => true).problems).toEqual([]);
  });

  it('is stored once, though the laptop takes it in twice and the tablet sends it after all', async () => {
    const made = [...(await write('Q1', 'a')), ...(await write('Q1', 'b'))];
    const { revisions } = fromFile(asFile(await unsent(tablet, event)), event, nothing);
    expect(await takeIn(laptop, event, lead, revisions)).toBe(2);
    expect(await takeIn(laptop, event, lead, revisions)).toBe(0);
    const server = new FakeServer();
    server.people.set('laptop', { author: 'lead', role: 'lead' });
    for (const [db, device, person] of [
      [laptop, 'laptop', lead],
      [tablet, 'd1', ana]
    ] as const) {
      const sync = new Sync({
        db,
        event,
        device,
        member: () => person.member_id,
        status: () => undefined,
        send: server.send,
        read: server.read,
        fetchBundle: () => Promise.resolve(false)
      });
      await sync.kick();
      sync.stop();
      expect(await db.count('outbox')).toBe(0);
    }
    expect(server.stored).toEqual(made.map((r) => r.revision_id));
    const [record] = await laptop.getAll('records');
    expect(record).toMatchObject({ conflict: false, body: { scout: 'ana', note: 'b' } });
    expect(record?.revisions.map((r) => r.author)).toEqual(['ana', 'ana']);
    expect(server.feed.map((f) => [f.revision?.author, f.revision?.device_id])).toEqual([
      ['ana', 'd1'],
      ['ana', 'd1']
    ]);
    // What the lead enters next is built upon it, and counts as later.
    const [next] = await save(laptop, event, lead, 'laptop', [
      { kind: 'note', recordId: newId(), body: { text: 'x' } }
    ]);
    expect(next!.lamport).toBeGreaterThan(made[1]!.lamport);
  });
});

import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Bodies, Kind, Match } from '../api';
import {
  handOver,
  newId,
  observationId,
  open,
  save,
  takeIn,
  takeOver,
  unsent,
  type DB,
  type Person
} from '../offline';
import { position } from '../offline/feed';
import { accept, home, out, type Out } from './content';

const event = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';
const ana: Person = { member_id: 'm-ana', nickname: 'ana', role: 'scout' };
const lead: Person = { member_id: 'm-lead', nickname: 'lead', role: 'lead' };

let here: DB;
let there: DB;
beforeEach(async () => {
  here = await open(`test-${newId()}`);
  there = await open(`test-${newId()}`);
});
afterEach(() => {
  here.close();
  there.close();
});

const watch = (db: DB, match: string) =>
  save(db, event, ana, 'd1', [
    {
      kind: 'observation',
      recordId: observationId(event, match, 1, '40117', 'ana'),
      body: { match, team: '40117', scout: 'ana', taps: [[1000, 'deck', 1]] }
    }
  ]);
const write = <K extends Kind>(kind: K, body: Partial<Bodies[K]>) =>
  save(here, event, lead, 'd2', [{ kind, recordId: newId(), body }]);
/** As it arrives: what JSON cannot hold is gone. */
const carried = (value: unknown): unknown => JSON.parse(JSON.stringify(value));

describe('records on their way home', () => {
  it('arrive as they were made, and go on from the lead’s device under their author', async () => {
    const made = [...(await watch(here, 'Q1')), ...(await watch(here, 'Q1')), ...(await watch(here, 'Q2'))];
    const { content, problems } = accept(
      carried(home(ana, await unsent(here, event), false)),
      event,
      'lead',
      'all'
    );
    expect(problems).toEqual([]);
    expect(content.revisions).toEqual(made);
    expect(await takeIn(there, event, lead, content.revisions)).toBe(3);
    expect(await takeIn(there, event, lead, content.revisions)).toBe(0);
    // The next lead's device takes them from this one, still as ana's.
    const again = accept(
      carried(home(lead, await unsent(there, event), false)),
      event,
      'lead',
      'staff'
    ).content;
    expect(again.revisions).toEqual(made);
  });

  it('stay unsent after a receipt, and are not shown a second time unless asked for', async () => {
    const [first] = await watch(here, 'Q1');
    await handOver(here, [first!.revision_id, newId()]);
    await watch(here, 'Q2');
    const items = await unsent(here, event);
    expect(items).toHaveLength(2);
    expect(home(ana, items, false).revisions.map((r) => r.body.match)).toEqual(['Q2']);
    expect(home(ana, items, true).revisions).toHaveLength(2);
  });

  it('are taken by a lead alone', async () => {
    await watch(here, 'Q1');
    const bundle = carried(home(ana, await unsent(here, event), false));
    for (const role of ['scout', 'coach'] as const)
      expect(() => accept(bundle, event, role, 'all')).toThrow('Only a lead takes them in');
  });

  it('in a lead’s name are not taken from what a scout can seal', async () => {
    await watch(here, 'Q1');
    await write('note', { text: 'forged' });
    const bundle = carried(home(ana, await unsent(here, event), false));
    const { content, problems } = accept(bundle, event, 'lead', 'all');
    expect(content.revisions.map((r) => r.kind)).toEqual(['observation']);
    expect(problems).toEqual([expect.stringContaining('a record of lead')]);
    expect(accept(bundle, event, 'lead', 'staff').content.revisions).toHaveLength(2);
  });

  it('that are of another event are said and left out', async () => {
    await watch(here, 'Q1');
    const bundle = carried(home(ana, await unsent(here, event), false));
    const { content, problems } = accept(bundle, newId(), 'lead', 'all');
    expect(content.revisions).toEqual([]);
    expect(problems).toEqual(['this record is of another event']);
  });
});

const schedule = [
  {
    match: 'Q1',
    play: 1,
    starts_at: '2031-03-06T14:00:00Z',
    red: { teams: ['40117', '40123', '40102'], score: 96, surrogates: ['40123'] },
    blue: { teams: ['40131', '40109', '40140'], score: 71 }
  }
] as unknown as Match[];
const bare = [
  {
    ...schedule[0],
    red: { teams: ['40117', '40123', '40102'], surrogates: ['40123'] },
    blue: { teams: ['40131', '40109', '40140'] }
  }
];

describe('what a lead gives out', () => {
  beforeEach(async () => {
    await here.put('bundle', {
      event,
      name: 'schedule',
      value: schedule,
      at: '2031-03-06T13:00:00Z',
      etag: '"1"'
    });
    await here.put('bundle', { event, name: 'estimates', value: { teams: [] }, at: '2031-03-06T13:00:00Z' });
    await here.put('bundle', { event, name: 'keys', value: { all: 'AA' }, at: '2031-03-06T13:00:00Z' });
    await here.put('bundle', { event, name: 'event', value: { role: 'lead' }, at: '2031-03-06T13:00:00Z' });
    await write('question', { text: 'asked', asked_of: 'scouts' });
    await write('question', { text: 'ours' });
    await write('list', { name: 'Picks' });
    await write('note', { text: 'slow' });
    await watch(here, 'Q1');
  });
  const every = ['schedule', 'questions', 'lists', 'briefs'] as const;

  it('to scouts holds no strategy, no results, no keys', async () => {
    const given = carried(await out(here, event, lead, 'all', [...every])) as Out;
    expect(given.revisions.map((r) => r.body.text)).toEqual(['asked']);
    expect(given.things).toEqual([{ name: 'schedule', value: bare, at: '2031-03-06T13:00:00Z' }]);
    expect(JSON.stringify(given)).not.toContain('m-lead');
  });

  it('to lead and coach holds what was chosen', async () => {
    const given = await out(here, event, lead, 'staff', ['lists', 'briefs']);
    expect(given.revisions.map((r) => r.kind)).toEqual(['list', 'note']);
    expect(given.things.map((t) => t.name)).toEqual(['estimates']);
  });

  it('is cut down once more on a scout’s tablet, whoever sent it', async () => {
    const given = carried(await out(here, event, lead, 'staff', [...every]));
    const { content } = accept(given, event, 'scout', 'staff') as { content: Out };
    expect(content.revisions.map((r) => r.body.text)).toEqual(['asked']);
    expect(content.things).toEqual([{ name: 'schedule', value: bare, at: '2031-03-06T13:00:00Z' }]);
    expect((accept(given, event, 'coach', 'staff').content as Out).things).toHaveLength(2);
    // What every scout can seal says nothing to the coach that a scout may not know.
    expect((accept(given, event, 'coach', 'all').content as Out).things).toHaveLength(1);
  });

  it('is there to be read, is not sent, and does not move the feed on', async () => {
    await there.put('feed', { event, after: 7, lamport: 1 });
    await there.put('bundle', {
      event,
      name: 'schedule',
      value: [],
      at: '2031-03-06T12:00:00Z',
      etag: '"0"'
    });
    const { content } = accept(
      carried(await out(here, event, lead, 'all', [...every])),
      event,
      'scout',
      'all'
    ) as {
      content: Out;
    };
    expect(await takeOver(there, event, content.revisions, content.things)).toEqual({
      kinds: ['question'],
      bundles: ['schedule'],
      revisions: 1
    });
    expect(await takeOver(there, event, content.revisions, content.things)).toMatchObject({
      revisions: 0,
      bundles: []
    });
    expect(await there.get('bundle', [event, 'schedule'])).toEqual({
      event,
      name: 'schedule',
      value: bare,
      at: '2031-03-06T13:00:00Z',
      stale: true
    });
    expect(await unsent(there, event)).toEqual([]);
    expect(await position(there, event)).toBe(7);
    expect(await there.getAllFromIndex('records', 'kind', [event, 'question'])).toHaveLength(1);
  });

  it('leaves alone what is newer here', async () => {
    await there.put('bundle', { event, name: 'schedule', value: [], at: '2031-03-06T14:00:00Z' });
    expect(
      (await takeOver(there, event, [], [{ name: 'schedule', value: bare, at: '2031-03-06T13:00:00Z' }]))
        .bundles
    ).toEqual([]);
  });
});

describe('what is no bundle', () => {
  it.each([
    [null],
    [5],
    [{}],
    [{ what: 'home' }],
    [{ what: 'new', revisions: [], from: ana }],
    [{ what: 'out', revisions: [], from: ana }]
  ])('%j is said to be none', (value) =>
    expect(() => accept(value, event, 'lead', 'all')).toThrow('This is no bundle')
  );

  it('with records that are none, those are said and the others taken', async () => {
    await watch(here, 'Q1');
    const given = home(ana, await unsent(here, event), false);
    const { content, problems } = accept(
      carried({ ...given, revisions: [7, ...given.revisions] }),
      event,
      'lead',
      'all'
    );
    expect(content.revisions).toEqual(given.revisions);
    expect(problems).toHaveLength(1);
  });
});

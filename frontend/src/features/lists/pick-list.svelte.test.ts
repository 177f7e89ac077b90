import type { EntryBody, ListBody } from '$lib/api';
import { entryId, type Change } from '$lib/offline';
import type { EventState } from '$lib/state/event.svelte';
import { describe, expect, it } from 'vitest';
import { inOrder } from './order';
import { PickListState } from './pick-list.svelte';

const LIST = '6ba7b810-9dad-11d1-80b4-00c04fd430c8';

/** An event that merges members as records do, and takes its time to save. */
function setUp(teams: string[]) {
  const bodies = teams.map((team, i): EntryBody => ({ list: LIST, team, key: `a${i}` }));
  let entries = $state.raw(
    bodies.map((body) => ({ record_id: entryId(LIST, body.team), conflict: false, body }))
  );
  let body = $state.raw<ListBody>({ name: 'First' });
  let broken = false;
  const saved: Change[][] = [];
  const event = {
    records: (kind: string) => (kind === 'entry' ? entries : []),
    bodies: (kind: string) => (kind === 'entry' ? entries.map((e) => e.body) : []),
    record: () => ({ body }),
    async save(...changes: Change[]) {
      await new Promise((done) => setTimeout(done));
      if (broken) throw new Error('the disk is full');
      saved.push(changes);
      for (const c of changes.filter((x) => x.kind === 'entry')) {
        const old = entries.find((e) => e.record_id === c.recordId);
        const body = { ...old?.body, ...c.body } as EntryBody & Record<string, unknown>;
        for (const name of Object.keys(body)) if (body[name] === null) delete body[name];
        const next = { record_id: c.recordId, conflict: false, body };
        entries = old ? entries.map((e) => (e === old ? next : e)) : [...entries, next];
      }
    }
  } as unknown as EventState;
  const list = new PickListState(event, LIST);
  return {
    list,
    saved,
    freeze: () => (body = { ...body, frozen: '2031-03-06T21:15:00.000Z' }),
    breakDisk: () => (broken = true),
    order: () => inOrder(list.entries).map((e) => e.team)
  };
}

describe('PickListState', () => {
  it('carries out moves one after the other, however fast the keys come', async () => {
    const { list, order } = setUp(['1', '2', '3', '4', '5']);
    await Promise.all([list.move('5', -1), list.move('5', -1), list.move('5', -1), list.move('1', 1)]);
    expect(order()).toEqual(['5', '1', '2', '3', '4']);
  });

  it('takes back one change after the other, the last first', async () => {
    const { list, order } = setUp(['1', '2', '3']);
    await list.move('3', -1);
    await list.never('1', 'tips over');
    await list.remove('2');
    expect(order()).toEqual(['3', '1']);
    expect(list.canUndo).toBe('2 taken off the list');
    await list.undo();
    await list.undo();
    expect(list.entries.find((e) => e.team === '1')).toMatchObject({ never: false, reason: '' });
    await list.undo();
    expect(order()).toEqual(['1', '2', '3']);
    expect(list.canUndo).toBeUndefined();
  });

  it('stores only the entry that was moved, and only what changed of it', async () => {
    const { list, saved } = setUp(['1', '2', '3']);
    await list.section('2', 1);
    expect(saved).toHaveLength(1);
    expect(saved[0]?.map((c) => [c.recordId, Object.keys(c.body).sort()])).toEqual([
      [entryId(LIST, '2'), ['key', 'tier']]
    ]);
  });

  it('says that nothing changed when it cannot be saved, and goes on with the next', async () => {
    const { list, order, breakDisk } = setUp(['1', '2']);
    breakDisk();
    expect(await list.move('2', -1)).toBe(false);
    expect(list.failed).toBe('Nothing changed. the disk is full');
    expect(order()).toEqual(['1', '2']);
    expect(list.canUndo).toBeUndefined();
    expect(await list.move('2', -1)).toBe(false);
  });

  it('copies a list, and a dated copy stays as it was', async () => {
    const { list, saved, order, freeze } = setUp(['1', '2', '3']);
    await list.section('3', 1);
    const id = await list.copy({ name: 'As of Friday', frozen: '2031-03-06T21:15:00.000Z' });
    expect(saved.at(-1)?.map((c) => [c.kind, c.recordId])).toEqual([
      ['list', id],
      ...['3', '1', '2'].map((t) => ['entry', entryId(id!, t)])
    ]);
    freeze();
    expect(await list.move('3', 1)).toBe(false);
    expect(list.failed).toMatch(/^This is a dated copy/);
    expect(order()).toEqual(['3', '1', '2']);
  });

  it('makes an entry anew from a team that was taken off', async () => {
    const { list, order } = setUp(['1', '2', '3']);
    await list.never('1', 'no');
    await list.remove('1');
    await list.add(['1']);
    expect(order()).toEqual(['2', '3', '1']);
    expect(list.entries.find((e) => e.team === '1')?.never).toBe(false);
  });
});

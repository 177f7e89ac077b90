import { afterEach, describe, expect, it, vi } from 'vitest';
import { open } from './db';
import { newId } from './ids';
import { refresh } from './bundle';
import { keepDraft } from './drafts';
import { onChange } from './notify';
import { save, takeIn } from './outbox';
import { countMe, inWords, isFull, saySpace, size, space } from './storage';

const texts = (s: Parameters<typeof saySpace>[0]) => saySpace(s).map((r) => r.text);
const full = () => new DOMException('no more', 'QuotaExceededError');

describe('saySpace', () => {
  it('is short where all is well', () => {
    expect(saySpace({ kept: true, used: 3e6, quota: 2.4e9, tabs: 1 })).toEqual([
      { warn: false, text: 'The browser keeps what you record until you remove the app.' },
      { warn: false, text: 'Sextant takes 3 MB here; 2.4 GB more are free for it.' }
    ]);
  });

  it('says little space, several tabs and what was not promised, as something to do', () => {
    const all = saySpace({ kept: false, used: 95e6, quota: 100e6, tabs: 2 });
    expect(all.map((r) => r.warn)).toEqual([true, true, true]);
    expect(all[0]?.text).toMatch(/^Only 5 MB are left .* Nothing that was recorded is thrown away\.$/);
    expect(all[1]?.text).toMatch(/^Sextant is open 2 times/);
    expect(all[2]?.text).toMatch(/private window/);
    expect(texts({ used: 120e6, quota: 100e6 })[0]).toMatch(/^Only less than 0.1 MB/);
  });

  it('says of a browser that tells nothing that it tells nothing', () => {
    expect(texts({})).toEqual([expect.stringContaining('does not say whether it promises')]);
    expect(saySpace({})[0]?.warn).toBe(false);
  });

  it.each([
    [99_999, 'less than 0.1 MB'],
    [640_000, '0.6 MB'],
    [12_400_000, '12 MB'],
    [1_240_000_000, '1.2 GB'],
    [64_000_000_000, '64 GB']
  ])('writes %i bytes as %s', (bytes, text) => expect(size(bytes)).toBe(text));
});

describe('space', () => {
  afterEach(() => vi.unstubAllGlobals());

  it('asks the browser, and takes no answer for none', async () => {
    vi.stubGlobal('navigator', {
      storage: {
        persisted: async () => true,
        estimate: async () => Promise.reject(new TypeError('not here'))
      },
      locks: {
        request: vi.fn(async () => undefined),
        query: async () => ({ held: [{ name: 'sextant-tab' }, { name: 'sextant-tab' }, { name: 'x' }] })
      }
    });
    countMe();
    expect(navigator.locks.request).toHaveBeenCalledWith(
      'sextant-tab',
      { mode: 'shared' },
      expect.any(Function)
    );
    expect(await space()).toEqual({ kept: true, used: undefined, quota: undefined, tabs: 2 });
    vi.stubGlobal('navigator', {});
    countMe();
    expect(await space()).toEqual({ kept: undefined, used: undefined, quota: undefined, tabs: undefined });
  });
});

describe('a full disk', () => {
  it('is known by its name (Indexed Database API, QuotaExceededError), whatever is thrown', () => {
    expect([full(), new Error('x'), undefined, 'x'].map(isFull)).toEqual([true, false, false, false]);
    expect(isFull(inWords(full()))).toBe(true);
    const other = new Error('x');
    expect(inWords(other)).toBe(other);
  });

  it('is said in words when a record does not fit, and nothing of it is kept', async () => {
    const db = await open(`test-${newId()}`);
    const put = vi.spyOn(IDBObjectStore.prototype, 'put').mockImplementationOnce(() => {
      throw full();
    });
    const person = { member_id: 'm', nickname: 'ana', role: 'scout' as const };
    const note = { kind: 'note' as const, recordId: newId(), body: { text: 'x' } };
    await expect(save(db, 'e', person, 'd', [note])).rejects.toThrow(/^The disk of this device is full/);
    put.mockRestore();
    expect(await db.count('outbox')).toBe(0);
    await save(db, 'e', person, 'd', [note]);
    expect(await db.count('outbox')).toBe(1);
    db.close();
  });

  const once = () =>
    vi.spyOn(IDBObjectStore.prototype, 'put').mockImplementationOnce(() => {
      throw full();
    });

  it('is said when a draft does not fit, to every screen, since nobody waits for one', async () => {
    const told: unknown[] = [];
    const end = onChange((change) => told.push(change));
    const put = once();
    await expect(keepDraft('e', 'k', { a: 1 })).rejects.toThrow(/^The disk of this device is full/);
    put.mockRestore();
    expect(told).toEqual([{ event: 'e', full: true }]);
    await keepDraft('e', 'k', { a: 2 });
    expect(told).toHaveLength(1);
    end();
  });

  it('is said when the schedule or a file of a tablet does not fit, and nothing of the file is kept', async () => {
    const db = await open(`test-${newId()}`);
    let put = once();
    await expect(
      refresh(db, 'e', 'teams', () => Promise.resolve({ value: [], status: 200 }))
    ).rejects.toThrow(/^The disk of this device is full/);
    put.mockRestore();
    const [revision] = await save(db, 'other', { member_id: 'm', nickname: 'ana', role: 'scout' }, 'd', [
      { kind: 'note', recordId: newId(), body: { text: 'x' } }
    ]);
    const lead = { member_id: 'l', nickname: 'lead', role: 'lead' as const };
    put = once();
    await expect(takeIn(db, 'e', lead, [revision!])).rejects.toThrow(/^The disk of this device is full/);
    put.mockRestore();
    expect(await db.getAllFromIndex('outbox', 'event', 'e')).toEqual([]);
    expect(await takeIn(db, 'e', lead, [revision!])).toBe(1);
    db.close();
  });
});

import { describe, expect, it } from 'vitest';
import { entriesOf, listsOf, recordChanges } from './entries';

const list = (id: string, name: string, more = {}) => ({
  record_id: id,
  conflict: false,
  body: { name, ...more }
});
const entry = (team: string, more = {}) => ({
  record_id: team,
  conflict: false,
  body: { list: 'L', team, key: 'a0', ...more }
});

describe('lists', () => {
  it('are counted without removed entries; never-picks stand apart', () => {
    const lists = [list('M', 'Second picks'), list('L', 'First picks'), list('X', 'Old', { removed: true })];
    const entries = [entry('1'), entry('2', { never: true }), entry('3', { removed: true })];
    expect(listsOf(lists, entries).map((l) => [l.name, l.entries, l.never])).toEqual([
      ['First picks', 1, 1],
      ['Second picks', 0, 0]
    ]);
  });

  it('leave out an entry of which only a later change has arrived', () => {
    const half = { record_id: '9', conflict: false, body: { tier: 2 } as never };
    expect(entriesOf('L', [half, entry('1', { tier: 2, never: true, reason: 'tips' })])).toEqual([
      { team: '1', key: 'a0', tier: 2, never: true, reason: 'tips', note: '', conflict: false }
    ]);
    expect(entriesOf('M', [entry('1')])).toEqual([]);
  });
});

describe('a change of an entry', () => {
  it('is a change of the record that every device gives the same id', () => {
    // RFC 9562, 5.5: UUIDv5 is SHA-1 over namespace and name. The value is from Python's
    // uuid.uuid5(uuid.UUID('6ba7b810-9dad-11d1-80b4-00c04fd430c8'), '40117').
    const [change] = recordChanges('6ba7b810-9dad-11d1-80b4-00c04fd430c8', [
      { team: '40117', set: { tier: 2 } }
    ]);
    expect(change).toEqual({
      kind: 'entry',
      recordId: '4ca1fe2a-c60d-5702-9698-3aaaf087bd89',
      body: { tier: 2 }
    });
  });
});

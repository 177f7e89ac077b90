import type { StoredRecord } from '$lib/offline';
import { expect, test } from 'vitest';
import { withRecords } from './records';

const record = (record_id: string, head: string) => ({ record_id, head }) as StoredRecord;
const said = (all: StoredRecord[]) => all.map((r) => r.record_id + r.head).join(' ');

test('new records come where the database has them, changed ones stay where they are', () => {
  const all = [record('b', '1'), record('d', '1')];
  expect(said(withRecords(all, [record('c', '1'), record('a', '1')]))).toBe('a1 b1 c1 d1');
  expect(said(withRecords(all, [record('d', '2'), record('b', '2')]))).toBe('b2 d2');
  expect(said(all)).toBe('b1 d1');
});

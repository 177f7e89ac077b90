import type { Estimates } from '$lib/api';
import { expect, test } from 'vitest';
import type { Entry } from './order';
import { copyAs, footOf, sentenceOf } from './words';

const entry = (team: string, never = false) => ({ team, never }) as Entry;

test('a list says who is in order, who is never picked and who is not on it', () => {
  expect(sentenceOf([], 3)).toBe('Nobody is on this list yet.');
  expect(sentenceOf([entry('11')], 0)).toBe('1 robot in order; no robot is missing.');
  expect(sentenceOf([entry('11'), entry('12'), entry('13', true)], 2)).toBe(
    '2 robots in order, 1 never to be picked; 2 robots not on it.'
  );
});

test('the foot of a print says from which data it is', () => {
  const estimates = { data_no: 41, fit: { matches: 1, records: 12 } } as Estimates;
  expect(footOf('Ebb', 'today', estimates)).toBe(
    'Ebb. Printed today. Estimates after 1 match and 12 records (data state 41).'
  );
  expect(footOf('Ebb', 'today', undefined)).toBe('Ebb. Printed today. Without estimates.');
});

test('a copy to go on from keeps its purpose, a dated one says what it was copied from', () => {
  expect(copyAs({ name: 'First', purpose: 'seed 3' }, undefined, 'UTC', 7)).toEqual({
    name: 'First (2)',
    purpose: 'seed 3'
  });
  const at = new Date('2031-03-06T09:05:00Z');
  const dated = copyAs({ name: 'First', purpose: 'seed 3' }, at, 'UTC', 7);
  expect(dated.name).toContain('6 March 2031, 09:05');
  expect(dated).toMatchObject({
    purpose: 'Copy of “First”, data state 7',
    frozen: '2031-03-06T09:05:00.000Z'
  });
});

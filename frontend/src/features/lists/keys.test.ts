import { expect, test } from 'vitest';
import { focusAt, meantBy, type Meant } from './keys';

const held = { altKey: false, ctrlKey: false, metaKey: false };

test.each<[string, Partial<typeof held>, Meant | undefined]>([
  ['ArrowDown', {}, { what: 'focus', to: 'next' }],
  ['ArrowDown', { altKey: true }, { what: 'move', by: 1 }],
  ['Home', { altKey: true }, { what: 'top' }],
  ['Home', {}, { what: 'focus', to: 'first' }],
  ['0', {}, { what: 'section', to: 'none' }],
  ['7', {}, { what: 'section', to: 7 }],
  ['x', {}, { what: 'ask', about: 'never' }],
  // What a browser or a reader of the screen uses stays theirs.
  ['7', { altKey: true }, undefined],
  ['p', { ctrlKey: true }, undefined],
  ['ArrowDown', { altKey: true, ctrlKey: true }, undefined],
  ['n', { metaKey: true }, undefined],
  ['Tab', {}, undefined],
  ['12', {}, undefined]
])('%s with %o', (key, keys, meant) => expect(meantBy({ key, ...held, ...keys })).toEqual(meant));

test('the focus stays within the list', () => {
  expect([focusAt('next', 4, 5), focusAt('next', 1, 5)]).toEqual([4, 2]);
  expect([focusAt('before', 0, 5), focusAt('before', 3, 5)]).toEqual([0, 2]);
  expect([focusAt('first', 3, 5), focusAt('last', 0, 5)]).toEqual([0, 4]);
});

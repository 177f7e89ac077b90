import { describe, expect, test } from 'vitest';
import type { Jump, MarkBody } from '$lib/api';
import type { Game } from '$lib/game/types';
import { answered, markOf, whatChanged } from './change';

const game = {
  periods: [
    { id: 'auto', name: 'Autonomous', seconds: 15 },
    { id: 'driver', name: 'Driven', seconds: 135 }
  ],
  actions: [
    { id: 'early', name: 'Barrel', kind: 'count', period: 'auto' },
    { id: 'barrel', name: 'Barrel', kind: 'count', period: 'driver' },
    { id: 'flag', name: 'Pennant', kind: 'flag', period: 'driver' },
    { id: 'moor', name: 'Mooring', kind: 'choice', options: [{ id: 'no' }, { id: 'up', name: 'Lifted' }] }
  ]
} as unknown as Game;
const jump = (more: Partial<Jump> = {}): Jump => ({
  team: '40117',
  match: 'Q31',
  through: 'Q52',
  before: 6.14,
  after: 2.3,
  probability: 0.9,
  ...more
});

test.each([
  [{ action: 'barrel' }, 'Barrel, Driven 6.1 → 2.3 a match'],
  [{}, 'counted points 6.1 → 2.3 a match'],
  [{ action: 'gone' }, 'counted points 6.1 → 2.3 a match'],
  [{ action: 'flag', before: 0.9, after: 0.1 }, 'Pennant in 90 % → 10 % of matches'],
  [{ action: 'moor', option: 'up', before: 0.8, after: 0 }, 'Mooring, Lifted in 80 % → 0 % of matches']
])('%o is “%s”', (more, want) => expect(whatChanged(game, jump(more)).replaceAll('\u00a0', ' ')).toBe(want));

describe('is answered', () => {
  const mark = (match: string, kind: string, more: Partial<MarkBody> = {}): MarkBody => ({
    team: '40117',
    match,
    kind,
    ...more
  });
  test.each([
    ['by nothing', [], false],
    ['by a change from that match on', [mark('Q31', 'repaired')], true],
    ['by a later change', [mark('Q40', 'changed')], true],
    ['not by a change before', [mark('Q9', 'changed')], false],
    ['not by one that was taken back', [mark('Q31', 'changed', { discarded: true })], false],
    ['not by another robot', [mark('Q31', 'changed', { team: '40118' })], false],
    ['by no change up to what was looked at', [mark('Q52', 'no_change')], true],
    ['not by no change of an earlier look', [mark('Q40', 'no_change')], false]
  ] as const)('%s', (_, marks, want) => expect(answered(jump(), marks)).toBe(want));

  test('by the marks that its answers make', () => {
    expect(markOf(jump(), 'repaired')).toEqual({ team: '40117', match: 'Q31', kind: 'repaired' });
    expect(markOf(jump(), 'no_change')).toEqual({ team: '40117', match: 'Q52', kind: 'no_change' });
    for (const kind of ['changed', 'no_change'] as const)
      expect(answered(jump(), [markOf(jump(), kind)])).toBe(true);
  });
});

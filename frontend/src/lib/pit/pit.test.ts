import type { TeamEstimate } from '$lib/api';
import type { Game } from '$lib/game/types';
import { expect, test } from 'vitest';
import { answerText, claimsOf, pitOf, visitOf, type Report } from './pit';
import { fit } from './shrink';

const report = (scout: string, at: string, body: Partial<Report['body']>): Report => ({
  id: scout,
  at,
  body: { team: '40101', scout, ...body }
});
const reports = [
  report('s02', '2031-03-06T10:00:00Z', { answers: { claim: 6 }, photos: ['b'], note: 'new intake' }),
  report('s01', '2031-03-06T09:00:00Z', {
    answers: { claim: 8, drive: 'six wheels' },
    photos: ['a', 'b'],
    routines: [{ name: 'two', claim: 'two barrels' }],
    again: true
  }),
  report('s03', '2031-03-06T11:00:00Z', { answers: { claim: 99 }, discarded: true })
];

test('of each question the latest answer counts, and photos and routines are all there', () => {
  const pit = pitOf(reports, '40101');
  expect(pit?.answers).toEqual({ claim: 6, drive: 'six wheels' });
  expect(pit?.photos).toEqual(['b', 'a']);
  expect(pit?.routines.map((r) => r.name)).toEqual(['two']);
  expect(pit?.by).toEqual(['s02', 's01']);
  expect(pit?.notes).toEqual([{ by: 's02', text: 'new intake' }]);
  expect(visitOf(pit)).toBe('visited'); // s02 went again
  expect(visitOf(pitOf(reports.slice(1), '40101'))).toBe('again');
  expect(visitOf(pitOf(reports, '40102'))).toBe('missing');
});

const game = {
  questions: [
    { id: 'claim', name: 'Barrels, a match', kind: 'number', when: 'pit', role: 'claim', action: 'deck' },
    { id: 'drive', name: 'Drivetrain', kind: 'text', when: 'pit' }
  ]
} as unknown as Game;

test('a claim stands beside what was seen, and is alone where nothing was', () => {
  const estimate = { actions: { deck: { mean: 4.6, sd: 0.4 } } } as unknown as TeamEstimate;
  const pit = pitOf(reports, '40101');
  expect(claimsOf(game, pit, estimate)).toEqual([
    { id: 'claim', question: 'Barrels, a match', says: 6, seen: { mean: 4.6, sd: 0.4 } }
  ]);
  expect(claimsOf(game, pit, undefined)).toEqual([{ id: 'claim', question: 'Barrels, a match', says: 6 }]);
  expect(claimsOf(game, undefined, estimate)).toEqual([]);
});

test('answers in words', () => {
  expect([true, false, 8, 'six wheels', undefined].map(answerText)).toEqual([
    'yes',
    'no',
    '8',
    'six wheels',
    ''
  ]);
});

test.each([
  [4000, 3000, [1280, 960]],
  [3000, 4000, [960, 1280]],
  [800, 600, [800, 600]],
  [9000, 1, [1280, 1]]
])('%d × %d fits', (w, h, want) => expect(fit(w, h)).toEqual(want));

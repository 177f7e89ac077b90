import type { Match, Observation, SeatBody } from '$lib/api';
import { expect, test } from 'vitest';
import { changesOf, firstAhead, readShifts, shiftsInWords, standOf, taken, usual, wrongWith } from './plan';

const event = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';

test('only what changes is written, and seats that nobody takes are emptied', () => {
  const seats: SeatBody[] = [
    { match: 'Q1', scout: 's01', team: '40101' },
    { match: 'Q5', scout: 's01', team: '40105', reason: { kind: 'unsure' } },
    { match: 'Q5', scout: 's02', team: '40106' },
    { match: 'Q6', scout: 's02' }
  ];
  const plan = {
    seats: [
      { match: 'Q5', scout: 's01', team: '40105', reason: { kind: 'unsure' as const, seen: 0 } },
      { match: 'Q6', scout: 's01', team: '40107', reason: { kind: 'never_seen' as const } }
    ]
  };
  const changes = changesOf(event, plan, 'Q5', seats);
  expect(changes.map((c) => c.body)).toEqual([
    { match: 'Q6', scout: 's01', team: '40107', reason: { kind: 'never_seen' } },
    { match: 'Q5', scout: 's02' }
  ]);
  expect(new Set(changes.map((c) => c.recordId)).size).toBe(2);
});

test('what was played while somebody looked at a plan stays as it was', () => {
  const seats: SeatBody[] = [
    { match: 'Q5', scout: 's01', team: '40105' },
    { match: 'Q6', scout: 's01', team: '40106' }
  ];
  const plan = {
    seats: [
      { match: 'Q5', scout: 's02', team: '40109' },
      { match: 'Q6', scout: 's02', team: '40107' }
    ]
  };
  expect(changesOf(event, plan, 'Q6', seats).map((c) => c.body)).toEqual([
    { match: 'Q6', scout: 's02', team: '40107' },
    { match: 'Q6', scout: 's01' }
  ]);
});

const at = (minutes: number) => new Date(Date.UTC(2031, 2, 6, 9, minutes));

test.each<[string, Partial<Observation>[], boolean, number | undefined, string]>([
  ['nothing began', [], false, -5, 'ahead'],
  ['the match is on', [], false, 3, 'now'],
  ['just played', [], true, 5, 'on its way'],
  ['long played', [], true, 30, 'missing'],
  ['played, nobody knows when', [], true, undefined, 'on its way'],
  ['there', [{ scout: 's01' }], true, 30, 'arrived'],
  ['of another scout', [{ scout: 's02' }], true, 30, 'missing'],
  ['discarded', [{ scout: 's01', discarded: true }], true, 30, 'missing']
])('%s', (_, records, played, since, stand) => {
  const seat = { match: 'Q5', scout: 's01', team: '40105' };
  const observations = records.map((r) => ({ match: 'Q5', team: '40105', scout: '', ...r }) as Observation);
  expect(standOf(seat, observations, played, since === undefined ? undefined : at(0), at(since ?? 0))).toBe(
    stand
  );
});

test('what a plan takes away is a share of what is open', () => {
  const loss = (n: number) => ({ brief: n, list: n, detail: 0, asked: 0, spread: -1, twice: -n });
  expect(taken({ loss: loss(3), nobody: loss(4) })).toBeCloseTo(0.25);
  expect(taken({ loss: loss(0), nobody: loss(0) })).toBe(0);
});

test('a plan begins after the last result', () => {
  const match = (name: string, result: boolean) => {
    const side = { teams: [], ...(result ? { result: { score: 1 } } : {}) };
    return { match: name, play: 1, starts_at: '', red: side, blue: side } as unknown as Match;
  };
  expect(firstAhead([match('Q1', true), match('Q2', false), match('Q3', true), match('Q4', false)])).toBe(
    'Q4'
  );
  expect(firstAhead([match('Q1', false)])).toBe('Q1');
  expect(firstAhead([match('Q1', true)])).toBeUndefined();
});

test('shifts are read and told', () => {
  expect(readShifts('Q1-Q30, q41 – Q60')).toEqual([
    { from: 'Q1', to: 'Q30' },
    { from: 'Q41', to: 'Q60' }
  ]);
  expect(readShifts('')).toEqual([]);
  expect(readShifts('in the morning')).toContain('in the morning');
  expect(shiftsInWords([{ from: 'Q1', to: 'Q30' }])).toBe('Q1–Q30');
});

test('what cannot be planned is said', () => {
  const rota = { ...usual(3), people: [{ scout: 's01', shifts: [{ from: 'Q1', to: 'Q9' }] }] };
  expect(wrongWith(rota, ['Q1', 'Q9'])).toBe('');
  expect(wrongWith({ ...rota, people: [] }, [])).toContain('Add somebody');
  expect(wrongWith({ ...rota, people: [{ scout: 's01', away: true }] }, [])).toContain('Everybody is away');
  expect(wrongWith({ ...rota, row: 5, rest: 0 }, ['Q1', 'Q9'])).toContain('break');
  expect(wrongWith(rota, ['Q1'])).toContain('Q9');
  expect(
    wrongWith({ ...rota, people: [{ scout: 's01', shifts: [{ from: 'Q9', to: 'Q1' }] }] }, ['Q1', 'Q9'])
  ).toContain('before');
});

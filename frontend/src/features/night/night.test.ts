import type { MarkBody, Match, Observation, TeamEstimate } from '$lib/api';
import { describe, expect, test } from 'vitest';
import { dayOf, movedOf, reasons, todayOf, todaySentence, undecidedOf, undecidedSentence } from './night';

const e = (team: string, now: number, now_sd = 2): TeamEstimate =>
  ({ team, now, now_sd, points: now, sd: now_sd, matches: 5, watched: 5 }) as unknown as TeamEstimate;
const by = (...all: TeamEstimate[]) => new Map(all.map((x) => [x.team, x]));
const side = (teams: string[], score?: number) => ({
  teams,
  ...(score === undefined ? {} : { result: { score } })
});
const m = (match: string, starts_at: string, score?: number): Match =>
  ({ match, play: 1, starts_at, red: side(['1'], score), blue: side(['2'], score) }) as unknown as Match;

const matches = [
  m('Q1', '2031-03-06T09:00:00Z', 5),
  m('Q2', '2031-03-07T09:00:00Z', 5),
  // Twenty minutes past midnight in Berlin, still the 7th in UTC.
  m('Q3', '2031-03-07T23:20:00Z', 5),
  m('Q4', '2031-03-08T09:00:00Z')
];

describe('the day', () => {
  test('is that of the last played match, in the zone of the event', () => {
    const now = new Date('2031-03-08T02:00:00Z');
    expect(dayOf(matches, 'UTC', now)).toBe('Fri 7 March');
    expect(dayOf(matches, 'Europe/Berlin', now)).toBe('Sat 8 March');
    expect(dayOf([], 'UTC', now)).toBe('Sat 8 March');
  });

  test('has its matches, their records that count, and the marks made on it', () => {
    const records = [
      { match: 'Q2', team: '1', scout: 'a' },
      { match: 'Q2', team: '2', scout: 'a', discarded: true },
      { match: 'Q1', team: '1', scout: 'a' },
      { match: 'Q2', team: '2', scout: 'b', absent: true }
    ] as Observation[];
    const mark = (team: string, more: object = {}): MarkBody => ({
      team,
      match: 'Q2',
      kind: 'rebuilt',
      ...more
    });
    const t = todayOf('Fri 7 March', 'UTC', matches, records, [
      { body: mark('1'), at: '2031-03-07T12:00:00Z' },
      { body: mark('2', { discarded: true }), at: '2031-03-07T12:00:00Z' },
      { body: mark('2'), at: '2031-03-06T12:00:00Z' },
      { body: mark('2'), at: undefined },
      { body: mark('2', { kind: 'no_change' }), at: '2031-03-07T12:00:00Z' }
    ]);
    expect(t.matches.map((x) => x.match)).toEqual(['Q2', 'Q3']);
    expect(t.records).toHaveLength(2);
    expect(t.marks.map((x) => x.team)).toEqual(['1']);
    expect(todaySentence('Fri 7 March', t)).toBe('2 matches were played on Fri 7 March, 2 records came in.');
    expect(reasons('1', t)).toBe('1 record, marked: rebuilt');
    expect(reasons('2', t)).toBe('1 record, did not show in Q2');
    expect(reasons('3', t)).toBe('not watched, by totals alone');
  });

  test('moved are those by more than half of what was open, most first', () => {
    const none = { matches: [], records: [], marks: [] };
    const moved = movedOf(
      [e('1', 10), e('2', 10), e('3', 10, 0), e('4', 10)],
      [e('1', 10.9), e('2', 13), e('3', 30), e('4', 5), e('5', 9)],
      none
    );
    expect(moved.map((x) => [x.team, x.size])).toEqual([
      ['4', -2.5],
      ['2', 1.5]
    ]);
  });
});

describe('the list', () => {
  test('open are neighbours of which the lower may well be the better', () => {
    const open = undecidedOf(
      ['1', '2', '3', '9', '4'],
      by(e('1', 40), e('2', 20), e('3', 20.5), e('4', 10)),
      (a, b) => (a === '4' || b === '4' ? -9 : 0)
    );
    expect(open.map((u) => [u.place, u.upper, u.lower])).toEqual([[2, '2', '3']]);
    expect(open[0]?.wrong).toBeGreaterThan(0.5);
    expect(undecidedSentence(open, 4)).toBe(
      'One of 4 neighbours could as well stand the other way round; in one the numbers say so.'
    );
    expect(undecidedSentence([], 4)).toMatch(/^Every robot on the list/);
    expect(undecidedSentence([], 0)).toMatch(/^There is nothing to compare/);
  });
});

import type { Match } from '$lib/api';
import { describe, expect, it } from 'vitest';
import { entryOf, factsOf, factWords, problemOf, scheduled } from './entry';

const members = { red: ['11', '12', '13', '14'], blue: ['21', '22', '23'] };
const teams = new Set(['11', '12', '13', '14', '21', '22', '23', '31']);
const start = () => entryOf(members, 3, undefined, undefined);

describe('who plays', () => {
  it('is at first who stands first in the alliance', () => {
    const e = start();
    expect([e.red.plays, e.blue.plays]).toEqual([
      ['11', '12', '13'],
      ['21', '22', '23']
    ]);
    expect(problemOf(e, 3, teams)).toBe('');
  });

  it('is who is suggested, where somebody is', () => {
    expect(entryOf(members, 3, undefined, undefined, { red: ['14', '12', '11'] }).red.plays).toEqual([
      '11',
      '12',
      '14'
    ]);
  });

  it.each([
    ['too few', (e: ReturnType<typeof start>) => void e.red.plays.pop(), 'Red has 2 robots; 3 play.'],
    ['too many', (e: ReturnType<typeof start>) => void (e.blue.backup = '31'), 'Blue has 4 robots; 3 play.'],
    [
      'a stranger',
      (e: ReturnType<typeof start>) => void (e.blue.backup = '99'),
      '“99” is no team of this event. Type the number of blue’s backup robot.'
    ],
    [
      'itself',
      (e: ReturnType<typeof start>) => void (e.blue.backup = '21'),
      '21 plays already; it is no backup robot.'
    ],
    [
      'both sides',
      (e: ReturnType<typeof start>) => {
        e.red.plays.pop();
        e.red.backup = '21';
      },
      '21 cannot play on both sides.'
    ]
  ])('refuses %s', (_, spoil, message) => {
    const e = start();
    spoil(e);
    expect(problemOf(e, 3, teams)).toBe(message);
  });
});

describe('what is kept of a match', () => {
  const e = start();
  e.red.plays = ['11', '12', '14'];
  e.red.why = { '13': ' drive broken ', '14': 'left over' };
  e.blue.plays = ['21', '22'];
  e.blue.backup = '31';
  e.blue.timeOut = true;
  const body = factsOf('P4', members, e);

  it('says who sat out and why, the backup robot and the time-out', () => {
    expect(body).toEqual({
      match: 'P4',
      red: { sat_out: [{ team: '13', why: 'drive broken' }] },
      blue: { time_out: true, backup: '31', sat_out: [{ team: '23' }] }
    });
    expect(factWords(body, undefined)).toEqual([
      '13 sat out (drive broken).',
      'Blue took a time-out.',
      'Blue had 31 as backup robot.',
      '23 sat out.'
    ]);
  });

  it('puts the match on the schedule and comes back as it was', () => {
    const list = scheduled([], 'P4', '2031-05-17T13:00:00Z', e);
    expect(list.map((m) => [m.match, m.red.teams, m.blue.teams])).toEqual([
      ['P4', ['11', '12', '14'], ['21', '22', '31']]
    ]);
    expect(entryOf(members, 3, list[0], body)).toEqual({
      ...e,
      red: { ...e.red, why: { '13': 'drive broken' } },
      blue: { ...e.blue, why: { '23': '' } }
    });
  });

  it('keeps time and result of a match that is there, and all others', () => {
    const old: Match = {
      match: 'P4',
      play: 1,
      starts_at: '2031-05-17T13:00:00Z',
      red: { teams: ['11'], result: { score: 7 } },
      blue: { teams: ['21'] }
    };
    const other: Match = { ...old, match: 'P3' };
    const list = scheduled([other, old], 'P4', undefined, e);
    expect(list[0]).toBe(other);
    expect(list[1]).toMatchObject({
      starts_at: old.starts_at,
      red: { teams: ['11', '12', '14'], result: { score: 7 } }
    });
  });
});

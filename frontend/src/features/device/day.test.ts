import { describe, expect, it } from 'vitest';
import { partsOf, sayDay, type Here } from './day';

const matches = ['Q1', 'Q2', 'Q3', 'Q10'].map((match) => ({ match }));
const seat = (match: string, scout: string, team = '40117') => ({ match, scout, team });
const whole: Here = {
  shell: 'ready',
  key: true,
  game: 'Slackwater',
  matches,
  asOf: '14:32',
  seats: [seat('Q1', 'ann'), seat('Q3', 'ann'), seat('Q2', 'bo'), seat('Q10', 'ann', '')],
  scout: 'ann',
  questions: 2
};
const said = (more: Partial<Here>, name: string) =>
  partsOf({ ...whole, ...more }).find((p) => p.name === name)?.said;

describe('a day without a network', () => {
  it('can be worked with app, key, game and schedule, whatever the rota', () => {
    for (const more of [{}, { seats: [], questions: 0 }])
      expect(sayDay(partsOf({ ...whole, ...more }), true)).toBe(
        'This tablet can work a day without a network.'
      );
    expect(sayDay(partsOf(whole), false)).toBe('This device can work a day without a network.');
  });

  it.each([
    [{ shell: 'not-yet' }, 'the app'],
    [{ shell: 'insecure' }, 'the app'],
    [{ key: false }, 'the key of the event'],
    [{ game: undefined }, 'the game'],
    [{ matches: [] }, 'the schedule'],
    [{ matches: [], key: false }, 'the key of the event and the schedule']
  ] as [Partial<Here>, string][])('%j: says what is missing', (more, what) =>
    expect(sayDay(partsOf({ ...whole, ...more }), true)).toBe(
      `This tablet cannot work a day without a network yet: it lacks ${what}.`
    )
  );

  it('tells how far the schedule goes and from when it is', () => {
    expect(said({}, 'Schedule')).toBe('4 matches, up to Q10, as of 14:32.');
    expect(said({ asOf: undefined, matches: matches.slice(0, 1) }, 'Schedule')).toBe('1 match, up to Q1.');
  });

  it('tells a scout of the own seats, others of all', () => {
    expect(said({}, 'Rota')).toBe('You watch in 2 matches, up to Q3.');
    expect(said({ scout: 'cy' }, 'Rota')).toContain('Nothing for you');
    expect(said({ scout: undefined }, 'Rota')).toBe('Planned for 3 matches, up to Q3.');
    expect(said({ scout: undefined, seats: [] }, 'Rota')).toBe('None on this device.');
  });

  it('counts open questions', () => {
    expect(said({}, 'Questions')).toBe('2 open.');
    expect(said({ questions: 0 }, 'Questions')).toBe('None open.');
  });
});

import type { Match, Observation, TeamEstimate } from '$lib/api';
import { nextOf } from '$lib/state/matches';
import { describe, expect, it } from 'vitest';
import { missingOf, ourRest, phaseOf, stateSentence, type State } from './summary';

const match = (id: string, scores?: [number, number], play = 1): Match => ({
  match: id,
  play,
  starts_at: '2031-03-06T14:00:00Z',
  red: { teams: ['1', '2'], result: scores && { score: scores[0] } },
  blue: { teams: ['3', '4'], result: scores && { score: scores[1] } }
});
const seen = (id: string, ...teams: string[]): Observation[] =>
  teams.map((team) => ({ match: id, team, scout: 's' }));
const state = (
  matches: Match[],
  observations: Observation[] = [],
  ourTeam: string | undefined = '1'
): State => ({
  matches,
  observations,
  ourTeam
});
const all = ['1', '2', '3', '4'];
const texts = (s: State, estimates: TeamEstimate[] = [], conflicts: Parameters<typeof missingOf>[2] = []) =>
  missingOf(s, estimates, conflicts, all).map((m) => m.text);

describe('the sentence', () => {
  it.each([
    [state([]), 'Nothing has been played or recorded yet.'],
    [state([], seen('Q1', '1')), 'No schedule yet, 1 record in.'],
    [state([match('Q1')]), '0 of 1 matches played, no record yet.'],
    [
      state(
        [match('Q1', [1, 2]), match('Q2')],
        [...seen('Q1', '1', '2'), { ...seen('Q1', '3')[0]!, discarded: true }]
      ),
      '1 of 2 matches played, 2 records in.'
    ],
    [
      state([match('W1'), match('Q1', [1, 2]), match('P1', [1, 2]), match('P2')]),
      '1 qualification and 1 playoff match played, no record yet.'
    ]
  ])('%#', (s, want) => {
    expect(stateSentence(s)).toBe(want);
  });
});

describe('records in doubt', () => {
  it.each([
    [[], []],
    [[{ kind: 'missing', match: 'Q1' } as const], []],
    [[{ kind: 'stuck', match: 'Q1' } as const], ['One doubt about what was recorded, in Q1.']],
    [
      [{ kind: 'swap', match: 'Q2' } as const, { kind: 'stuck', match: 'Q1' } as const],
      ['Two doubts about what was recorded, in Q1 and Q2.']
    ]
  ])('%j', (suspects, want) => {
    const whole = state([match('Q1', [1, 2])], seen('Q1', ...all));
    expect(missingOf(whole, [], [], all, suspects).map((m) => m.text)).toEqual(want);
  });
});

describe('our next match', () => {
  it('is after the last that was played, even if an earlier result is missing', () => {
    const s = state([match('Q1'), match('Q2', [1, 2]), match('Q3')]);
    expect(nextOf(s.matches, '1')?.match).toBe('Q3');
    expect(ourRest(s).map((m) => m.match)).toEqual(['Q1', 'Q3']);
    expect(nextOf([match('Q1')], '9')).toBeUndefined();
    expect(nextOf(s.matches, undefined)).toBeUndefined();
  });
});

describe('after the qualification', () => {
  const done = match('Q1', [1, 2]);
  it.each([
    ['nothing is planned', [], 0, undefined],
    ['a match is left', [done, match('Q2')], 0, undefined],
    ['a tie is played again', [done, match('Q1', undefined, 2)], 0, undefined],
    ['all are played, practice or not', [match('W1'), done], 0, ['/selection']],
    ['somebody called', [done], 1, ['/selection', '/playoffs']],
    ['a playoff match is planned', [done, match('P1')], 20, ['/playoffs']],
    ['the final is planned', [done, match('F1')], 20, ['/playoffs']],
    ['the final is played', [done, match('F1', [1, 2])], 20, ['/playoffs', '/report']]
  ] as const)('%s', (_, matches, moves, want) => {
    expect(phaseOf([...matches], moves)?.links.map((l) => l.to)).toEqual(want);
  });
});

describe('what is missing', () => {
  it('is nothing when all is there', () => {
    expect(texts(state([match('Q1', [1, 2]), match('Q2')], seen('Q1', ...all)))).toEqual([]);
  });

  it('names results that were never typed in', () => {
    const three = [match('Q1'), match('Q2'), match('Q3', [1, 2])];
    expect(texts(state(three, seen('Q3', ...all)))).toEqual(['Two results of Q1 and Q2 are missing.']);
    expect(texts(state([match('W1'), ...three.slice(2)], seen('Q3', ...all)))).toEqual([]);
    expect(texts(state(three.slice(1), seen('Q3', ...all)))).toEqual(['The result of Q2 is missing.']);
  });

  it('counts robots that nobody watched, not in practice, of the play that counts', () => {
    expect(texts(state([match('W1', [1, 2]), match('Q1', [1, 2])], seen('Q1', '1', '2')))).toEqual([
      '2 robots were not watched in Q1.'
    ]);
    const replayed = state([match('Q1', [1, 2]), match('Q1', [3, 4], 2)], seen('Q1', ...all));
    expect(texts(replayed)).toEqual(['4 robots were not watched in Q1.']);
  });

  it('says where people disagree, before anything else about records', () => {
    const s = state([match('Q1', [1, 2])], seen('Q1', ...all));
    expect(texts(s, [], [{ match: 'Q1' }])).toEqual(['Two versions of one record disagree, in Q1.']);
    expect(texts(s, [], [{ match: 'Q9' }, { match: 'Q1' }, { match: 'Q9' }, {}])).toEqual([
      '4 records disagree, in Q1 and Q9.'
    ]);
    expect(texts(s, [], [{}])).toEqual(['Two versions of one record disagree.']);
  });

  it('names robots that played and were never watched', () => {
    const estimate = (team: string, watched: number) => ({ team, matches: 2, watched }) as TeamEstimate;
    const s = state([match('Q1', [1, 2])], seen('Q1', ...all));
    expect(texts(s, [estimate('1', 2), estimate('2', 0), estimate('3', 0)])).toEqual([
      'Nobody has watched 2 and 3 yet.'
    ]);
  });

  it('starts with what the event itself lacks', () => {
    expect(
      missingOf({ matches: [], observations: [], ourTeam: undefined }, [], [], []).map((m) => m.id)
    ).toEqual(['teams', 'schedule']);
    expect(texts({ ...state([match('Q1')]), ourTeam: undefined })[0]).toMatch(/^Our team was not chosen/);
  });
});

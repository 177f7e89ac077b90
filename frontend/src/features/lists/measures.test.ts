import type { NoteBody, Observation, TeamEstimate } from '$lib/api';
import type { Game } from '$lib/game/types';
import { describe, expect, it, test } from 'vitest';
import { filtersOf } from './filters';
import { measuresOf, weighted } from './measures';
import { saidOf } from './said';

const game = {
  periods: [
    { id: 'auto', name: 'Autonomous', seconds: 15 },
    { id: 'driver', name: 'Driver-controlled', seconds: 120 }
  ],
  actions: [
    { id: 'deck', period: 'driver', name: 'On deck', kind: 'count', points: 4 },
    { id: 'cast', period: 'auto', name: 'Casts off', kind: 'flag', points: 3 },
    {
      id: 'moor',
      period: 'driver',
      name: 'Mooring',
      kind: 'choice',
      options: [
        { id: 'none' },
        { id: 'moored', name: 'Moored', points: 2 },
        { id: 'lifted', name: 'Lifted', points: 10 }
      ]
    }
  ],
  questions: [
    { id: 'still', kind: 'number', when: 'match', role: 'stopped_seconds' },
    { id: 'guard', kind: 'number', when: 'match', role: 'defending_seconds' }
  ]
} as unknown as Game;

const estimate = (team: string, now: number, actions: Record<string, number> = {}, more: object = {}) =>
  ({
    team,
    now,
    points: now,
    working: now,
    watched: 3,
    stops: 0,
    actions: Object.fromEntries(Object.entries(actions).map(([k, mean]) => [k, { mean, sd: 1 }])),
    ...more
  }) as unknown as TeamEstimate;

describe('weights', () => {
  const measures = measuresOf(game);

  it('offers the figures of the estimates and every own action', () => {
    expect(measures.map((m) => m.id)).toEqual([
      'now',
      'points',
      'working',
      'stops',
      'action:deck',
      'action:cast',
      'action:moor:moored',
      'action:moor:lifted'
    ]);
  });

  // Mean 5, standard deviation 2 of all eight (a common worked example, from
  // memory; Python's statistics.pstdev says the same).
  const eight = [2, 4, 4, 4, 5, 5, 7, 9].map((v, i) => estimate(String(i), v, { deck: 10 - v }));
  const scores = [-1.5, -0.5, -0.5, -0.5, 0, 0, 1, 2];
  it.each([
    ['one figure: its standard scores', { now: 1 }, scores],
    ['twice the weight', { now: 2 }, scores.map((z) => 2 * z)],
    ['a figure and its mirror image cancel', { now: 1, 'action:deck': 1 }, scores.map(() => 0)],
    ['less is better', { 'action:deck': -1 }, scores],
    ['in which all are alike', { stops: 3 }, scores.map(() => 0)],
    ['nothing weighs anything', {}, scores.map(() => 0)]
  ])('%s', (_, weights, want) => {
    const got = [...weighted(measures, weights as Record<string, number>, eight).values()];
    got.forEach((g, i) => expect(g).toBeCloseTo(want[i]!, 12));
  });

  it('what is not known of a robot counts as the mean', () => {
    const some = [...eight, estimate('8', 5)];
    expect(weighted(measures, { 'action:deck': 1 }, some).get('8')).toBe(0);
    const unseen = [estimate('1', 1, {}, { watched: 0, stops: 0 }), estimate('2', 1, {}, { stops: 0.5 })];
    expect(weighted(measures, { stops: -1 }, unseen).get('1')).toBe(0);
  });
});

test('chips leave out what is known to lack something, and nobody else', () => {
  const seen = (team: string, guard: number | undefined, more: object = {}) =>
    ({
      team,
      match: 'Q1',
      scout: 'ana',
      answers: guard === undefined ? {} : { guard },
      ...more
    }) as Observation;
  const estimates = [
    estimate('1', 9, { cast: 0.9, 'moor:moored': 0.1, 'moor:lifted': 0.8 }),
    estimate('2', 9, { cast: 0.2, 'moor:moored': 0.4, 'moor:lifted': 0.2 }),
    estimate('3', 9)
  ];
  const filters = filtersOf({
    game,
    estimates: new Map(estimates.map((e) => [e.team, e])),
    observations: [
      seen('1', 0),
      seen('1', 90),
      seen('2', 60),
      seen('3', 100, { discarded: true }),
      seen('4', undefined)
    ],
    stopped: new Map([['2', 'stopped']])
  });
  const left = ['1', '2', '3', '4'];
  expect(filters.map((f) => [f.label, left.filter((t) => !f.keeps(t))])).toEqual([
    ['Not defence only', ['2']],
    ['Ran in its last match', ['2']],
    ['Casts off', ['2']],
    ['Moored or more', []],
    ['Lifted', ['2']]
  ]);
  expect(filtersOf({ game: undefined, estimates: new Map(), observations: [], stopped: new Map() })).toEqual(
    []
  );
});

test('what is said of a robot: here, elsewhere and by scouts, each with its author', () => {
  const note = (record_id: string, body: Partial<NoteBody>, author: string) => ({
    record_id,
    body: body as NoteBody,
    head: '2',
    revisions: [
      { revision_id: '2', parents: ['1'], author: 'somebody else' },
      { revision_id: '1', parents: [], author }
    ]
  });
  const seen = (record_id: string, more: object) => ({
    record_id,
    body: { team: '1', match: 'Q2', scout: 's03', ...more } as Observation
  });
  const got = saidOf(
    'L',
    [
      note('01', { team: '1', text: 'first', list: 'L' }, 'kim'),
      note('02', { team: '1', text: 'lifts', list: 'L', match: 'Q2', scout: 's03' }, 'kim'),
      note('03', { team: '1', text: 'of another list', list: 'M' }, 'kim'),
      note('04', { team: '1', text: 'of the robot' }, 'cora'),
      note('05', { team: '1', text: 'gone', list: 'L', removed: true }, 'kim')
    ],
    [
      seen('a', { note: 'lifts' }),
      seen('b', { note: 'slow', match: 'Q9' }),
      seen('c', { note: 'wrong robot', discarded: true }),
      seen('d', { note: ' ' }),
      seen('e', { note: 'turns', match: 'Q10' })
    ]
  );
  const say = (all: { text: string; author: string }[]) => all.map((s) => `${s.author}: ${s.text}`);
  const one = got.get('1')!;
  expect(say(one.here)).toEqual(['s03: lifts', 'kim: first']);
  expect(say(one.elsewhere)).toEqual(['cora: of the robot']);
  expect(say(one.scouts)).toEqual(['s03: turns', 's03: slow']);
});

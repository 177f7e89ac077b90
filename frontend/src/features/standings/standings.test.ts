import type { Goal, Matter, Standings } from '$lib/api';
import type { Game } from '$lib/game/types';
import { describe, expect, test } from 'vitest';
import {
  branches,
  firstLine,
  goalChips,
  goalWords,
  mattersOf,
  mustHappen,
  ofWeekends,
  pointsSentence,
  rowsOf,
  stripBars,
  stripWords
} from './standings';

const gap = '\u00a0';
// An invented game: one further ranking point.
const game = {
  id: 'x',
  name: 'X',
  version: 1,
  alliance: { robots: 3 },
  periods: [],
  actions: [],
  ranking_points: [{ id: 'laden', name: 'Full load', points: 1, when: 'win' }]
} satisfies Game;

const goal = (part: Partial<Goal> = {}): Goal => ({
  top: 8,
  chance: 0.41,
  se: 0.003,
  matters: [],
  points: [],
  enough: [],
  tree: { share: 1, chance: 0.41, se: 0.003 },
  ...part
});

const matter = (part: Partial<Matter>): Matter => ({
  match: 'Q63',
  ours: true,
  chance: 0.5,
  given: 0.66,
  otherwise: 0.41,
  se: 0.005,
  effect: 0.25,
  effect_se: 0.003,
  ...part
});

const standings = (part: Partial<Standings> = {}): Standings => ({
  current: true,
  data_no: 7,
  first: false,
  runs: 20000,
  captains: 8,
  our_team: '905',
  order: ['ranking_points'],
  ranking: [
    { team: '41', rank: 1, matches: 4, to_come: 2, ranking_points: 2.5, total: 10, figures: [2.5] },
    { team: '905', rank: 2, matches: 4, to_come: 2, ranking_points: 1.5, total: 6, figures: [1.5] },
    { team: '77', rank: 3, matches: 4, to_come: 2, ranking_points: 1, total: 4, figures: [1] }
  ],
  teams: [
    { team: '77', mean_rank: 1.4, rank: [0.7, 0.2, 0.1], seeded: 0.7, ranking_points: 2, best: 1, worst: 2 },
    { team: '41', mean_rank: 2, rank: [0.3, 0.4, 0.3], seeded: 0.3, ranking_points: 2.2, best: 1, worst: 3 },
    { team: '905', mean_rank: 2.6, rank: [0, 0.4, 0.6], seeded: 0, ranking_points: 1.4, best: 2, worst: 3 }
  ],
  schedules: [
    {
      team: '41',
      past: { matches: 4, partners: 20, opponents: 21, edge: -1 },
      to_come: { matches: 2, partners: 20, opponents: 30, edge: -9 }
    }
  ],
  goal: goal(),
  ...part
});

test.each([
  [0, 'in none of the weekends played out'],
  [0.001, 'in fewer than 1 of 100 weekends'],
  [0.41, 'in 41 of 100 weekends'],
  [0.999, 'in more than 99 of 100 weekends'],
  [1, 'in all of the weekends played out']
])('a chance of %d comes about %s', (p, want) => expect(ofWeekends(p)).toBe(want));

describe('the first line', () => {
  test.each<[string, Standings, string]>([
    [
      'says where we are and end',
      standings(),
      'We are 2nd; we end among the captains in 41 of 100 weekends.'
    ],
    [
      'speaks of another goal',
      standings({ goal: goal({ top: 4, chance: 0.2 }) }),
      'We are 2nd; we end in the top 4 in 20 of 100 weekends.'
    ],
    [
      'of an event that is over',
      standings({ ranking: standings().ranking.map((r) => ({ ...r, to_come: 0 })) }),
      'Qualification is over: we ended 2nd.'
    ],
    [
      'where nothing is known of robots',
      standings({ runs: 0, teams: [], goal: undefined }),
      'We are 2nd; too little is known of the robots to say where we end.'
    ],
    [
      'before the first match',
      standings({ runs: 0, teams: [], ranking: [] }),
      'Nothing has been played yet, so there is no order to tell of.'
    ],
    [
      'without a team of ours',
      standings({ our_team: undefined, goal: undefined }),
      '77 is most likely to end ahead: first in 70 of 100 weekends. Which team is ours was not said.'
    ]
  ])('%s', (_, s, want) => expect(firstLine(s)).toBe(want));
});

test('rows are ordered by what is asked for, and keep robots of which nothing is known', () => {
  const s = standings();
  expect(rowsOf(s, 'now').map((r) => r.team)).toEqual(['41', '905', '77']);
  expect(rowsOf(s, 'end').map((r) => r.team)).toEqual(['77', '41', '905']);
  expect(rowsOf(s, 'captain').map((r) => r.team)).toEqual(['77', '41', '905']);
  expect(rowsOf(s, 'points').map((r) => r.team)).toEqual(['41', '77', '905']);
  expect(rowsOf(s, 'schedule').map((r) => r.team)).toEqual(['41', '905', '77']);
  const none = rowsOf(standings({ teams: [], schedules: [] }), 'end');
  expect(none.map((r) => r.ending)).toEqual([undefined, undefined, undefined]);
});

test('a strip has a bar for each place that comes about, cut off at the full height', () => {
  expect(stripBars([0.001, 0.1, 0.899])).toEqual([
    { place: 2, height: 0.5 },
    { place: 3, height: 1 }
  ]);
  expect(stripWords(standings().teams[1]!)).toBe('ends 1st to 3rd in 8 of 10 weekends, most often 2nd');
});

test('goals: the captains first, no place that is theirs twice, none beyond the teams', () => {
  expect(goalChips(8, 20).map((c) => c.top)).toEqual([0, 1, 4, 12, 16]);
  expect(goalChips(0, 10).map((c) => c.top)).toEqual([1, 4, 8]);
  expect(goalWords(8, 8)).toBe('among the captains');
  expect(goalWords(1, 8)).toBe('first');
  expect(goalWords(12, 0)).toBe('in the top 12');
});

describe('what matters', () => {
  const told = (...matters: Matter[]) => mattersOf(goal({ matters }), game).map((m) => m.text);

  test('is said from the chance without it to the chance with it', () => {
    expect(told(matter({ ranking_point: 'laden', alliance: 'red' }))).toEqual([
      `Full load for us lifts us from 41 to 66${gap}%.`
    ]);
    expect(told(matter({ outcome: 'blue', ours: false, given: 0.2, otherwise: 0.5 }))).toEqual([
      `A win of blue lowers us from 50 to 20${gap}%.`
    ]);
  });

  test('of the outcomes of a match one is told, ours before a tie and before theirs', () => {
    expect(
      told(
        matter({ outcome: 'blue', ours: false, given: 0.3, otherwise: 0.5 }),
        matter({ outcome: 'tie' }),
        matter({ outcome: 'red' })
      )
    ).toEqual([`A win of ours lifts us from 41 to 66${gap}%.`]);
  });

  test('leaves out what is within noise, or too small to matter', () => {
    expect(told(matter({ outcome: 'red', given: 0.45, otherwise: 0.41, se: 0.03 }))).toEqual([]);
    expect(told(matter({ outcome: 'red', given: 0.416, otherwise: 0.41, se: 0.001 }))).toEqual([]);
  });

  test('says how sure it is only when that is two points or more', () => {
    const say = (se: number) =>
      mattersOf(goal({ matters: [matter({ outcome: 'red', se })] }), game)[0]?.spread;
    expect(say(0.003)).toBe('');
    expect(say(0.011)).toBe('');
    expect(say(0.03)).toBe('± 4 points');
  });

  test('tells apart what the points do and what the match would tell', () => {
    const say = (effect: number) =>
      mattersOf(goal({ matters: [matter({ outcome: 'red', effect })] }), game)[0]?.direct;
    expect(say(0.24)).toBe('');
    expect(say(0.15)).toBe('15 of these 25 by its ranking points');
    expect(say(0.001)).toBe('not by its ranking points');
  });
});

describe('what must happen', () => {
  test.each<[string, Partial<Goal>, string[]]>([
    ['nothing', { chance: 1 }, ['Nothing: we end among the captains whatever comes.']],
    [
      'out of reach',
      { chance: 0 },
      ['It is out of reach: no weekend played out ends with us among the captains.']
    ],
    ['safe', { chance: 0.95 }, ['Nothing special: we end among the captains in 95 of 100 weekends.']],
    [
      'one way',
      {
        enough: [
          {
            all: [
              { match: 'Q63', outcome: 'red', ours: true },
              { match: 'Q70', ranking_point: 'laden', alliance: 'blue', ours: true }
            ],
            chance: 0.24,
            given: 0.93,
            se: 0.004
          }
        ]
      },
      [`If we win in Q63 and we gain Full load in Q70: 93${gap}%. That comes about in 24 of 100 weekends.`]
    ]
  ])('%s', (_, part, want) => expect(mustHappen(goal(part), 8, game)).toEqual(want));

  test('in ranking points', () => {
    const points = [
      { points: 2, chance: 0.3, given: 0.1, at_least: 0.41 },
      { points: 5, chance: 0.5, given: 0.5, at_least: 0.7 },
      { points: 9, chance: 0.2, given: 0.92, at_least: 0.92 }
    ];
    expect(pointsSentence(goal({ points }))).toBe(
      `With nine more ranking points or more it is 92${gap}%; we collect them in 20 of 100 weekends.`
    );
    expect(pointsSentence(goal({ points: points.slice(0, 2) }))).toContain('no number of them makes it sure');
    expect(pointsSentence(goal({ points: points.slice(0, 1) }))).toContain('No number');
    expect(pointsSentence(goal({ points, chance: 0.95 }))).toBe('');
  });

  test('step by step', () => {
    const leaf = (chance: number) => ({ share: 0.5, chance, se: 0.01 });
    const asks = { match: 'Q63', outcome: 'red', ours: true };
    expect(branches({ ...leaf(0.41), asks, yes: leaf(0.7), no: leaf(0.12) }, game)).toEqual([
      { depth: 0, text: `If we win in Q63: 70${gap}%` },
      { depth: 0, text: `If not: 12${gap}%` }
    ]);
    expect(branches(leaf(0.41), game)).toEqual([]);
  });
});

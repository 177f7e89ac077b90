import { describe, expect, it } from 'vitest';
import type { Brief, BriefRobot, Match, Observation } from '$lib/api';
import type { Game } from '$lib/game/types';
import { toPrepare } from '$lib/state/briefs';
import { agreedShort, doneWords, resultLine } from './after';
import {
  assumption,
  autonomousWords,
  bestWords,
  clashWords,
  defenceWords,
  firstLine,
  jobWords,
  keptName,
  needWords,
  planGain,
  queryOf,
  reachWords,
  scores,
  stopWords,
  targetWords,
  toAgree
} from './brief';

const game = {
  id: 'g',
  name: 'G',
  version: 1,
  alliance: { robots: 3 },
  periods: [
    { id: 'auto', seconds: 15 },
    { id: 'driver', name: 'Driver-controlled', seconds: 135 }
  ],
  actions: [
    { id: 'cast_off', period: 'auto', name: 'Casts off', kind: 'flag', points: 3 },
    { id: 'deck', period: 'driver', name: 'Barrel on deck', kind: 'count', points: 4, misses: true },
    {
      id: 'mooring',
      period: 'driver',
      kind: 'choice',
      options: [
        { id: 'none', points: 0 },
        { id: 'lifted', name: 'Lifted', points: 10 }
      ]
    },
    { id: 'signal', kind: 'flag', by: 'alliance', points: 0 }
  ],
  components: [{ id: 'barrels', name: 'Barrels', count: ['deck'] }],
  ranking_points: [{ id: 'laden', name: 'Full load', points: 1, when: 'win' }],
  questions: [
    { id: 'start', kind: 'choice', options: ['left', 'middle'], when: 'match', role: 'start_position' },
    { id: 'defended', kind: 'number', when: 'match', role: 'defending_seconds' }
  ]
} as unknown as Game;

const robot: BriefRobot = {
  team: '40123',
  watched: 8,
  now: 31.24,
  now_sd: 3,
  best: [
    {
      action: 'deck',
      mean: 4.84,
      low: 4,
      high: 5,
      points: 19,
      accuracy: { share: 0.83, low: 0.7, high: 0.9, tries: 30 }
    },
    { action: 'mooring', option: 'lifted', mean: 0.62, low: 0.5, high: 0.7, points: 6 }
  ],
  autonomous: [
    { action: 'cast_off', mean: 0.9, low: 0.8, high: 1, points: 2.7 },
    { action: 'deck', mean: 0.04, low: 0, high: 0.1, points: 0.2 }
  ],
  starts: [
    { place: 'far_left', share: 0.75, seen: 6 },
    { place: 'middle', share: 0.25, seen: 2 }
  ],
  stops: 0.063,
  defence: { seen: 8, matches: 2, seconds: 41.6 }
};

const side = (mean: number) => ({ mean, sd: 10, p10: mean - 13, p90: mean + 13 });
const detail = (red: number, blue: number, win: number) => ({
  forecast: {
    match: 'Q7',
    red: side(red),
    blue: side(blue),
    chance: { red: win, blue: 0.99 - win, tie: 0.01 }
  },
  red: { capped: 0, quantiles: [] },
  blue: { capped: 0, quantiles: [] }
});
const brief: Brief = {
  match: 'Q7',
  ours: 'red',
  goal: 'ranking_points',
  assume: { loss: 0.2, gain: 0.2, keeps: 0.5 },
  runs: 1500,
  data_no: 5,
  current: true,
  played: false,
  red: [robot],
  blue: [],
  now: detail(88.4, 71.2, 0.41),
  planned: detail(84, 60, 0.48),
  plan: {
    jobs: [{ team: '40117' }, { team: '40123', against: '40131' }, { team: '40102', to: '40117' }],
    win: { gain: 0.07, se: 0.01 },
    ranking_points: { gain: 0.118, se: 0.02 },
    why: 'Because.',
    tried: 34
  },
  defend: [],
  clashes: [{ kind: 'start', teams: ['40117', '40123'], place: 'far_left', chance: 0.45, free: ['middle'] }],
  reach: []
};

describe('a brief in words', () => {
  it('says what the forecast says, ours first', () => {
    expect(firstLine(brief)).toBe('It is open: 41\u00a0% for us, 58\u00a0% for them.');
    expect(scores(brief)).toBe('88 to 71');
    expect(scores({ ...brief, ours: 'blue' })).toBe('71 to 88');
    expect(firstLine({ ...brief, ours: 'blue' })).toBe('It is open: 58\u00a0% for us, 41\u00a0% for them.');
  });
  it('tells the gain of the plan from both forecasts', () => {
    expect(planGain(brief)).toBe('Chance to win 41\u00a0% → 48\u00a0%, ranking points +0.12.');
    expect(planGain({ ...brief, goal: 'win', ours: 'blue' })).toBe('Chance to win 58\u00a0% → 51\u00a0%.');
    expect(brief.plan.jobs.map(jobWords)).toEqual([
      'plays its own game',
      'defends against 40131',
      'feeds 40117'
    ]);
    expect(assumption(brief, false)).toContain('20\u00a0% fewer points, and who defends keeps 50\u00a0%');
    expect(assumption(brief, true)).toContain('one that is fed 20\u00a0% more');
  });
  it.each([
    [{ gain: 0.07, se: 0.01 }, 'win', '+7 in a hundred to win'],
    [{ gain: 0.015, se: 0.01 }, 'win', 'no sure gain'],
    [{ gain: -0.1, se: 0.01 }, 'ranking_points', '−0.10 ranking points']
  ])('a gain of %o', (gain, goal, want) => {
    expect(targetWords({ team: '1', by: '2', win: gain, ranking_points: gain }, goal)).toBe(want);
  });
  it('has four facts of a robot', () => {
    expect(bestWords(game, robot)).toBe('Barrel on deck 4.8 (83\u00a0% hit), Lifted 62\u00a0%');
    expect(autonomousWords(game, robot)).toBe(
      'starts far left (75\u00a0%), middle (25\u00a0%), Casts off 90\u00a0%'
    );
    expect(stopWords(robot)).toBe('6\u00a0% of its matches');
    expect(defenceWords(robot)).toBe('in 2 of 8, 42 s');
  });
  it('never takes what nobody saw for nothing', () => {
    const unseen: BriefRobot = {
      team: '40199',
      watched: 0,
      now: 20,
      now_sd: 15,
      best: [],
      autonomous: [],
      starts: [],
      stops: 0.1
    };
    expect(bestWords(game, unseen)).toBe('not seen');
    expect(autonomousWords(game, unseen)).toBe('not seen');
    expect(stopWords(unseen)).toBe('never watched');
    expect(defenceWords(unseen)).toBe('nobody watched for it');
  });
  it('says who is in whose way', () => {
    expect(brief.clashes.map((c) => clashWords(game, c))).toEqual([
      '40117 and 40123 both start far left (45\u00a0% likely). Free: middle.'
    ]);
    expect(
      clashWords(game, {
        kind: 'cap',
        teams: ['40117', '40123'],
        actions: ['mooring'],
        option: 'lifted',
        max: 2,
        expected: 2.61
      })
    ).toBe('Lifted: 40117 and 40123 together come to 2.6, 2 count.');
  });
  it('says what ranking points need', () => {
    const r = {
      id: 'laden',
      points: 1,
      chance: 0.62,
      planned: 0.7,
      any: true,
      needs: [
        { group: 0, component: 'barrels', at_least: 20, expected: 18.44 },
        { group: 1, both: 'signal' },
        { group: 1, component: 'barrels', more: true, expected: 18.44, theirs: 12 }
      ]
    };
    expect(reachWords(game, r)).toBe('Full load: 62\u00a0%, 70\u00a0% with the plan.');
    expect(needWords(game, r)).toBe(
      'Needs barrels 20 or more (18.4 expected); or Signal by both alliances and more barrels than they (18.4 to 12.0 expected).'
    );
    expect(reachWords(game, { id: 'laden', points: 1, needs: [], any: false })).toBe(
      'Full load: too little was seen to tell.'
    );
  });
  it('offers what there is to agree on', () => {
    expect(toAgree(game, brief)).toEqual([
      { team: '40123', text: 'Defends against 40131' },
      { team: '40102', text: 'Feeds 40117' },
      { team: '40123', text: 'Starts middle' }
    ]);
  });
});

describe('three that start at one place', () => {
  const free = ['middle', 'right'];
  const clash = (a: string, b: string) => ({
    kind: 'start',
    teams: [a, b],
    place: 'left',
    chance: 0.5,
    free
  });
  it('are asked once each, to different places', () => {
    const clashes = [clash('1', '2'), clash('1', '3'), clash('2', '3')];
    expect(toAgree(game, { ...brief, plan: { ...brief.plan, jobs: [] }, clashes })).toEqual([
      { team: '2', text: 'Starts middle' },
      { team: '3', text: 'Starts right' }
    ]);
  });
});

describe('which brief', () => {
  it('reads an address and names what is kept by it', () => {
    const q = queryOf(new URLSearchParams('red=40101+40102&ours=red&goal=points&x=1'));
    expect(keptName('P1', q)).toBe('brief/P1&red=40101 40102&ours=red');
    expect(keptName('Q7', queryOf(new URLSearchParams('')))).toBe('brief/Q7');
  });
  it('fetches our next three ahead, and none that nobody can make', () => {
    const at = (n: number, red: string[], score?: number): Match => ({
      match: `Q${n}`,
      play: 1,
      starts_at: '',
      red: { teams: red, ...(score !== undefined && { result: { score } }) },
      blue: { teams: ['9'], ...(score !== undefined && { result: { score } }) }
    });
    const matches = [
      at(1, ['1']),
      at(2, ['1'], 5),
      at(3, ['1']),
      at(4, ['2']),
      at(5, ['1']),
      { ...at(6, ['1']), blue: { teams: [] } },
      at(7, ['1']),
      at(8, ['1'])
    ];
    expect(toPrepare({ matches, ourTeam: '1' })).toEqual(['Q3', 'Q5', 'Q7']);
    expect(toPrepare({ matches, ourTeam: undefined })).toEqual([]);
  });
});

describe('afterwards', () => {
  it('puts what a scout saw beside a promise', () => {
    const o = {
      match: 'Q7',
      team: '40123',
      scout: 'ana',
      counts: { deck: { made: 5, missed: 1 }, cast_off: { made: 1 } },
      choices: { mooring: { option: 'lifted' } },
      answers: { start: 'left', defended: 30 }
    } as unknown as Observation;
    expect(doneWords(game, o)).toBe(
      'ana saw: started left, 30 s defending, Casts off, 5 Barrel on deck, Lifted'
    );
    expect(doneWords(game, { match: 'Q7', team: '1', scout: 'bo', absent: true } as Observation)).toBe(
      'bo saw: did not show'
    );
    expect(doneWords(game, { match: 'Q7', team: '1', scout: 'bo' } as Observation)).toBe(
      'bo saw: nothing counted'
    );
  });
  it('says how it ended, for us', () => {
    const m = { red: { teams: [], result: { score: 147 } }, blue: { teams: [], result: { score: 122 } } };
    const of = (side: 'red' | 'blue') => resultLine(m as unknown as Match, side);
    expect([of('red'), of('blue'), resultLine(undefined, 'red')]).toEqual([
      'We won, 147 to 122.',
      'We lost, 122 to 147.',
      ''
    ]);
  });
  it('sums up', () => {
    expect(agreedShort([])).toBe('');
    expect(agreedShort([{}, {}])).toBe('2 agreed');
    expect(agreedShort([{ kept: 'kept' }, { kept: 'partly' }, {}])).toBe('3 agreed, 1 kept');
  });
});

import type { Bracket, Calibration, Estimates, Match, PlayedForecast } from '$lib/api';
import { describe, expect, it } from 'vitest';
import {
  asPrior,
  forecastSentence,
  hindsightSentence,
  ourMatches,
  picksInHindsight,
  scoutLines,
  surprises,
  winsSentence,
  type OurMatch
} from './report';

const plain = (text: string) => text.replaceAll('\u00a0', ' ');
const match = (id: string, red: string[], blue: string[], play = 1): Match => ({
  match: id,
  play,
  starts_at: '',
  red: { teams: red },
  blue: { teams: blue }
});
const forecast = (id: string, red: number, scores: [number, number]): PlayedForecast => ({
  match: id,
  red: { mean: 80, sd: 10, p10: 67, p90: 93 },
  blue: { mean: 70, sd: 10, p10: 57, p90: 83 },
  chance: { red, blue: 0.9 - red, tie: 0.1 },
  red_score: scores[0],
  blue_score: scores[1]
});
const line = (chance: number, won: number): OurMatch => ({
  match: 'Q1',
  side: 'red',
  expected: 80,
  scored: 80,
  chance,
  won
});

describe('our matches', () => {
  const all = ourMatches(
    [
      match('Q1', ['1', '2'], ['3', '4']),
      match('Q2', ['3', '4'], ['1', '5']),
      match('Q3', ['3'], ['4']),
      match('P1', ['1'], ['3']),
      match('P1', ['1'], ['3'], 2)
    ],
    [
      forecast('Q1', 0.6, [90, 71]),
      forecast('Q2', 0.6, [90, 71]),
      forecast('Q3', 0.6, [1, 2]),
      forecast('P1', 0.5, [80, 80])
    ],
    '1'
  );
  it('are those that we play in, from our side, each once', () => {
    expect(
      all.map((m) => [m.match, m.side, m.expected, m.scored, Number(m.chance.toFixed(2)), m.won])
    ).toEqual([
      ['Q1', 'red', 80, 90, 0.65, 1],
      ['Q2', 'blue', 70, 71, 0.35, 0],
      ['P1', 'red', 80, 80, 0.55, 0.5]
    ]);
  });
});

describe('what was expected', () => {
  it.each([
    // 4 of 0.5 each: expected 2, standard deviation 1.
    [
      [1, 1, 0, 1].map((w) => line(0.5, w)),
      'We won 3 of 4 forecast matches; the forecasts gave us 2.0. That is within the luck of so many matches.'
    ],
    [
      [1, 1, 1, 1].map((w) => line(0.5, w)),
      'We won 4 of 4 forecast matches; the forecasts gave us 2.0. We did better than luck alone explains easily.'
    ],
    [
      [0, 0, 0, 0.5].map((w) => line(0.5, w)),
      'We won 0.5 of 4 forecast matches; the forecasts gave us 2.0. We did worse than luck alone explains easily.'
    ],
    [[], 'None of our matches was forecast, so there is nothing to compare.']
  ])('%#', (ours, words) => expect(winsSentence(ours)).toBe(words));

  it('names what went least as expected', () => {
    expect(surprises([line(0.9, 1), line(0.1, 1), line(0.8, 0), line(0.5, 0)]).map((m) => m.chance)).toEqual([
      0.1, 0.8
    ]);
  });

  it('tells how good forecasts were', () => {
    const c = { trust: { matches: 40, correct: 0.75, coverage80: 0.82, level: 'good' } } as Calibration;
    expect(plain(forecastSentence(c))).toBe(
      '30 of 40 forecasts were on the right side, and 82 % of the scores fell into intervals that promise 80 %.'
    );
  });
});

const estimates = {
  teams: [
    { team: '1', points: 30, sd: 2 },
    { team: '2', points: 20, sd: 2 },
    { team: '3', points: 10, sd: 2 },
    { team: '4', points: 25, sd: 2 },
    { team: '5', points: 5, sd: 2 }
  ],
  fit: {
    scouts: [
      { scout: 'bo', records: 4, bias: -0.3, bias_sd: 0.01, spread: 3 },
      { scout: 'ana', records: 54, bias: -0.05, bias_sd: 0.01, spread: 0.8 },
      { scout: 'cy', records: 40, bias: 0.03, bias_sd: 0.04, spread: 1.6 }
    ]
  },
  current: true,
  data_no: 7
} as unknown as Estimates;

describe('scouts', () => {
  it('are thanked in the order of names, and kindly told', () => {
    expect(scoutLines(estimates).map((s) => plain(`${s.scout} ${s.records}: ${s.words}`))).toEqual([
      'ana 54: steadier than most; counts 5 % low, which the estimates allow for',
      'bo 4: too few records to say more',
      'cy 40: counts scatter; a shorter shift may help'
    ]);
  });
});

describe('picks in hindsight', () => {
  const bracket = {
    alliances: [
      { alliance: 1, teams: ['1', '2', '3'] },
      { alliance: 2, teams: ['5'] }
    ]
  } as unknown as Bracket;
  const h = picksInHindsight(bracket, estimates, 1);
  it('stand in their places among all, beside who stayed free', () => {
    expect(h.picks.map((p) => [p.team, p.as, p.place])).toEqual([
      ['1', 'captain', 1],
      ['2', 'pick 1', 3],
      ['3', 'pick 2', 4]
    ]);
    expect(h.left.map((p) => p.team)).toEqual(['4']);
    expect(hindsightSentence(h)).toBe(
      '4 stayed free and would surely have added more than 3: 15.0 points a match.'
    );
  });
  it('say nothing that the intervals do not bear', () => {
    expect(
      hindsightSentence({ picks: h.picks, left: [{ team: '4', as: 'free', points: 12, sd: 2, place: 4 }] })
    ).toBe('Nobody who stayed free is surely better than any of our picks.');
  });
});

it('gives estimates away as prior knowledge, without what is of this server', () => {
  expect(Object.keys(JSON.parse(asPrior(estimates)) as object)).toEqual(['teams', 'fit']);
});

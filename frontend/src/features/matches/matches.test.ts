import type { Forecast, Match } from '$lib/api';
import { barsOf } from '$lib/forecast/detail';
import type { Game } from '$lib/game/types';
import { bodiesOf, doubtsOf, emptyForm, formOf, problemsOf, readNumber } from '$lib/result/result-form';
import { lastPlays } from '$lib/state/matches';
import { describe, expect, it } from 'vitest';
import { saidOf } from '$lib/state/said';
import { chanceShort, forecastWords, outlook, scoreScale } from './outlook';
import {
  byStage,
  keep,
  linesOf,
  matchesSentence,
  nextLine,
  ourNextLine,
  outcome,
  skippedLines,
  watchedTeams
} from './schedule';

const game: Game = {
  id: 'harbour',
  name: 'Harbour',
  version: 1,
  alliance: { robots: 2 },
  periods: [],
  actions: [],
  components: [
    { id: 'autonomous', sum: ['leave'] },
    { id: 'docking', name: 'Docking', sum: ['dock'] },
    { id: 'crates', count: ['crate'] }
  ]
};

function match(id: string, scores?: [number, number], play = 1): Match {
  return {
    match: id,
    play,
    starts_at: '2031-03-06T14:00:00Z',
    red: { teams: ['1', '2'], result: scores && { score: scores[0] } },
    blue: { teams: ['3', '4'], result: scores && { score: scores[1] } }
  };
}

const forecast = (id: string): Forecast => ({
  match: id,
  red: { mean: 60, sd: 10, p10: 47, p90: 73 },
  blue: { mean: 50, sd: 10, p10: 37, p90: 63 },
  chance: { red: 0.75, blue: 0.24, tie: 0.01 }
});

const nobody = new Map<string, Set<string>>();

describe('the schedule', () => {
  it('shows the last play of a match, in playing order', () => {
    const last = lastPlays([match('Q10'), match('Q2', [1, 2]), match('Q2', undefined, 2), match('W1')]);
    expect(last.map((m) => [m.match, m.play])).toEqual([
      ['W1', 1],
      ['Q2', 2],
      ['Q10', 1]
    ]);
  });

  it('counts the robots that were watched, of the play that counts', () => {
    const watched = watchedTeams([
      { match: 'Q1', team: '1' },
      { match: 'Q1', team: '1' },
      { match: 'Q1', play: 0, team: '3' },
      { match: 'Q1', play: 2, team: '4' },
      { match: 'Q1', team: '2', discarded: true },
      { match: 'Q1', team: '99' }
    ]);
    const [line] = linesOf([match('Q1', [1, 2])], '4', [], watched);
    expect([line?.watched, line?.robots, line?.ours]).toEqual([2, 4, 'blue']);
    expect(keep(line!, 'unwatched')).toBe(true);
  });

  const lines = linesOf(
    [match('Q1', [10, 5]), match('Q2'), match('Q3', [5, 5]), match('Q4'), match('Q5'), match('P1')],
    '1',
    [forecast('Q4')],
    nobody
  );

  it('does not wait for a result that was never typed in', () => {
    expect(nextLine(lines)?.match.match).toBe('Q4');
    expect(skippedLines(lines).map((l) => l.match.match)).toEqual(['Q2']);
    expect(ourNextLine(lines)?.match.match).toBe('Q4');
  });

  it('goes back to what is missing when all later ones are played', () => {
    const done = linesOf([match('Q1'), match('Q2', [1, 0])], '1', [], nobody);
    expect(nextLine(done)?.match.match).toBe('Q1');
    expect(ourNextLine(done)).toBeUndefined();
  });

  it.each([
    ['all', 6],
    ['ours', 6],
    ['to-play', 4],
    ['played', 2],
    ['unwatched', 2]
  ] as const)('filter %s keeps %d', (filter, n) => {
    expect(lines.filter((l) => keep(l, filter))).toHaveLength(n);
  });

  it('is grouped by stage', () => {
    expect(byStage(lines).map((g) => [g.stage, g.lines.length])).toEqual([
      ['Q', 5],
      ['P', 1]
    ]);
  });

  it('is told in one sentence', () => {
    expect(matchesSentence([])).toBe('No schedule yet.');
    expect(matchesSentence(lines)).toBe('2 of 6 matches played; ours is next, Q4.');
    const others = linesOf(
      [match('Q1', [1, 2]), { ...match('Q2'), red: { teams: ['7'] } }, match('Q3')],
      '1',
      [],
      nobody
    );
    expect(matchesSentence(others)).toBe('1 of 3 matches played; Q2 is next, ours is Q3.');
    expect(matchesSentence(linesOf([match('Q1', [1, 2])], '1', [], nobody))).toBe(
      '1 of 1 matches played: all results are in.'
    );
  });

  it('knows who won', () => {
    expect([match('Q1', [2, 1]), match('Q1', [1, 2]), match('Q1', [1, 1]), match('Q1')].map(outcome)).toEqual(
      ['red', 'blue', 'tie', undefined]
    );
  });
});

describe('the result form', () => {
  const played: Match = {
    match: 'Q7',
    play: 1,
    starts_at: '2031-03-06T14:00:00Z',
    red: {
      teams: ['1', '2'],
      absent: ['2'],
      cards: ['1'],
      result: {
        score: 96,
        from_fouls: 4,
        components: { autonomous: 21 },
        ranking_points: 3,
        robots: { dock: ['high', 'none'] }
      }
    },
    blue: { teams: ['3', '4'], result: { score: 71 } }
  };

  it('gives back what was stored, to the member', () => {
    const bodies = bodiesOf(game, played, 1, formOf(game, played), played);
    expect(bodies.red).toEqual({
      match: 'Q7',
      play: 1,
      alliance: 'red',
      score: 96,
      from_fouls: 4,
      components: { autonomous: 21 },
      ranking_points: 3,
      robots: { dock: ['high', 'none'] },
      absent: ['2'],
      cards: ['1']
    });
    expect(bodies.blue).toEqual({ match: 'Q7', play: 1, alliance: 'blue', score: 71 });
  });

  it('leaves out what was not published instead of writing 0', () => {
    const form = emptyForm(game);
    form.red.score = '40';
    form.blue.score = '0';
    const bodies = bodiesOf(game, match('Q7'), 2, form);
    expect(bodies.red).toEqual({ match: 'Q7', play: 2, alliance: 'red', score: 40 });
    expect(bodies.blue.score).toBe(0);
  });

  it.each([
    ['96', 96],
    [' 12 ', 12],
    ['-3', -3],
    ['−3', -3],
    ['1.5', 1.5],
    ['1,5', 1.5],
    ['', undefined],
    ['1e3', undefined],
    ['NaN', undefined],
    ['Infinity', undefined],
    ['9 6', undefined],
    ['1234567', undefined],
    ['0x10', undefined]
  ])('reads %j as %s', (text, want) => {
    expect(readNumber(text)).toBe(want);
  });

  it('names the field and says what to do', () => {
    const form = emptyForm(game);
    form.red.score = '9o';
    form.blue.fromFouls = '-1';
    form.blue.components.docking = 'x';
    expect(problemsOf(game, form)).toEqual([
      { side: 'red', field: 'score', message: '“9o” is not a number: type digits only.' },
      { side: 'blue', field: 'score', message: 'Type blue’s score.' },
      { side: 'blue', field: 'from_fouls', message: 'Points from fouls cannot be below 0.' },
      { side: 'blue', field: 'component:docking', message: '“x” is not a number: type digits only.' }
    ]);
  });

  it('doubts parts that add up to more than the score, and scores far from the forecast', () => {
    const form = emptyForm(game);
    Object.assign(form.red, {
      score: '60',
      fromFouls: '10',
      components: { autonomous: '30', docking: '25', crates: '99' }
    });
    Object.assign(form.blue, { score: '500', fromFouls: '0' });
    expect(doubtsOf(game, form, forecast('Q7')).map((d) => [d.side, d.field])).toEqual([
      ['red', 'score'],
      ['blue', 'score']
    ]);
    form.red.components.docking = '20';
    form.blue.score = '90';
    expect(doubtsOf(game, form, forecast('Q7'))).toEqual([]);
    form.red.fromFouls = '61';
    expect(doubtsOf(game, form).map((d) => d.field)).toEqual(['from_fouls', 'score']);
  });
});

describe('the outlook of a match', () => {
  const line = (scores?: [number, number], ours = '1') =>
    linesOf([match('Q1', scores)], ours, [forecast('Q1')], nobody)[0]!;

  it.each([
    [line([60, 50]), 'We won, 60 to 50.'],
    [line([50, 60]), 'We lost, 50 to 60.'],
    [line([50, 60], '9'), 'Blue won, 60 to 50.'],
    [line([5, 5]), 'A tie, 5 to 5.'],
    [line(), 'We are likely to win: 75\u00a0%.'],
    [line(undefined, '3'), 'We are unlikely to win: 24\u00a0%.'],
    [line(undefined, '9'), 'Red is likely to win: 75\u00a0%.'],
    [linesOf([match('Q1')], '1', [], nobody)[0]!, 'No forecast yet.']
  ])('%#: %s', (l, want) => {
    expect(outlook(l)).toBe(want);
  });

  it('draws results and forecasts on one scale that holds both', () => {
    const scale = scoreScale([line([5, 90]), line()]);
    expect(scale.low).toBeLessThan(5);
    expect(scale.high).toBeGreaterThan(90);
    const bars = barsOf(forecast('Q1'), 'red', scale);
    expect(bars.from).toBeLessThan(bars.mean);
    expect(bars.mean).toBeLessThan(bars.to);
    expect(scoreScale([]).at(0)).toBe(0);
  });

  it('says the same in words, with both intervals', () => {
    expect(forecastWords(forecast('Q1'))).toBe(
      'Red 60 points, 80 % interval 47 to 73; Blue 50 points, 80 % interval 37 to 63. Red is likely to win: 75\u00a0%.'
    );
    expect(chanceShort(forecast('Q1'))).toBe('Red likely, 75\u00a0%');
    expect(chanceShort({ ...forecast('Q1'), chance: { red: 0.4, blue: 0.59, tie: 0.01 } })).toBe(
      'Open: blue 59\u00a0%'
    );
  });
});

describe('a record in one line', () => {
  const said: Game = {
    ...game,
    actions: [
      { id: 'crate', name: 'Crate', kind: 'count', misses: true },
      { id: 'leave', name: 'Leaves', kind: 'flag' },
      { id: 'dock', name: 'Docking', kind: 'choice', tried: true, options: [{ id: 'high', name: 'High' }] }
    ],
    fouls: [{ id: 'minor', name: 'Minor foul' }],
    questions: [{ id: 'still', name: 'Seconds stopped', kind: 'number', when: 'match' }]
  };

  it('leaves out what was not watched', () => {
    expect(saidOf(said, { match: 'Q1', team: '1', scout: 's' })).toEqual([]);
  });

  it('says what was, with misses, tries, fouls and answers', () => {
    expect(
      saidOf(said, {
        match: 'Q1',
        team: '1',
        scout: 's',
        counts: { crate: { made: 5, missed: 1 }, leave: { made: 0 } },
        choices: { dock: { option: 'high', tried: false } },
        fouls: { minor: 2 },
        answers: { still: 30 }
      })
    ).toEqual(['Crate 5 (1 missed)', 'Leaves: no', 'Docking: High', 'Minor foul 2', 'Seconds stopped: 30']);
  });

  it('says nothing else of a robot that did not show', () => {
    expect(saidOf(said, { match: 'Q1', team: '1', scout: 's', absent: true })).toEqual(['did not show']);
  });
});

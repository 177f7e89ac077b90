import type { Bracket, BracketSeries, Match } from '$lib/api';
import type { Game } from '$lib/game/types';
import { describe, expect, it } from 'vitest';
import {
  bracketSentence,
  decide,
  decisionWords,
  drawingOf,
  fromWords,
  futures,
  minutesApart,
  ourSeries,
  rivals,
  shiftWords,
  turnRound,
  ways,
  waysShort
} from './bracket';

/** Eight alliances, double elimination, as GET bracket gives it before the first game. */
const form: [string, string, string, string?][] = [
  ['upper 1', 'A1', 'A8'],
  ['upper 1', 'A4', 'A5'],
  ['upper 1', 'A2', 'A7'],
  ['upper 1', 'A3', 'A6'],
  ['lower 2', 'L1', 'L2', '7-8'],
  ['lower 2', 'L3', 'L4', '7-8'],
  ['upper 2', 'W1', 'W2'],
  ['upper 2', 'W3', 'W4'],
  ['lower 3', 'L7', 'W6', '5-6'],
  ['lower 3', 'L8', 'W5', '5-6'],
  ['upper 4', 'W7', 'W8'],
  ['lower 4', 'W10', 'W9', '4'],
  ['lower 5', 'L11', 'W12', '3'],
  ['final', 'W11', 'W13', '2']
];

function bracket(): Bracket {
  const to = (from: string) => {
    const i = form.findIndex(([, red, blue]) => red === from || blue === from);
    return i < 0 ? undefined : i + 1;
  };
  const series = form.map(([round, red, blue, out], i): BracketSeries => {
    const side = (from: string) => ({
      from,
      won: 0,
      ...(from[0] === 'A' ? { alliance: Number(from.slice(1)) } : {})
    });
    const n = i + 1;
    return {
      series: n,
      round,
      final: n === 14,
      wins: n === 14 ? 2 : 1,
      match: n === 14 ? 'F1' : `P${n}`,
      red: side(red),
      blue: side(blue),
      open: n <= 4,
      winner_to: to(`W${n}`),
      loser_to: to(`L${n}`),
      out,
      games: [],
      reach: Array.from({ length: 8 }, () => (n <= 4 ? 0 : 0.25))
    } as BracketSeries;
  });
  series
    .slice(0, 4)
    .forEach(
      (s) =>
        (s.reach = s.reach.map((_, k) => (k + 1 === s.red.alliance || k + 1 === s.blue.alliance ? 1 : 0)))
    );
  return {
    alliances: Array.from({ length: 8 }, (_, k) => ({
      alliance: k + 1,
      final: 0.25,
      win: 0.125,
      se: 0,
      places: {},
      rounds: {},
      teams: [`${k + 1}01`]
    })),
    next: series.slice(0, 4).map((s) => ({
      match: s.match,
      round: s.round,
      red: s.red.alliance!,
      blue: s.blue.alliance!,
      chance: { red: 0.8, blue: 0.2 }
    })),
    series,
    format: 'double_elimination_8',
    runs: 1,
    current: true,
    data_no: 1
  };
}

const game = {
  id: 'harbour',
  name: 'Harbour',
  version: 1,
  alliance: { robots: 3 },
  periods: [
    { id: 'auto', name: 'Autonomous', seconds: 15, pause_after: 3 },
    { id: 'driver', name: 'Driven', seconds: 135 },
    { id: 'end', name: 'End', seconds: 20, within: 'driver' }
  ],
  actions: [],
  components: [
    { id: 'autonomous', name: 'Autonomous', sum: [] },
    { id: 'finish', name: 'Finish', sum: [] }
  ],
  playoff: { format: 'double_elimination_8', tie_order: ['autonomous', 'finish'], then: 'replay' }
} as Game;

const match = (red: [number, number?, number?], blue: [number, number?, number?]): Match => {
  const side = ([score, autonomous, finish]: [number, number?, number?]) => ({
    teams: [],
    result: {
      score,
      components: { ...(autonomous !== undefined && { autonomous }), ...(finish !== undefined && { finish }) }
    }
  });
  return { match: 'P1', play: 1, starts_at: '', red: side(red), blue: side(blue) };
};

describe('the drawing', () => {
  const d = drawingOf(bracket().series)!;

  it('puts a series right of all it hangs on, and the final last', () => {
    expect(d.placed.map((p) => p.column)).toEqual([0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 3, 4, 5]);
    expect(d.columns).toBe(6);
  });

  it('lets no two boxes touch', () => {
    for (const a of d.placed)
      for (const b of d.placed)
        if (a !== b && a.column === b.column) expect(Math.abs(a.middle - b.middle)).toBeGreaterThanOrEqual(1);
  });

  it('keeps who has lost once below', () => {
    const lower = d.placed.filter((p) => p.series.round.startsWith('lower')).map((p) => p.middle);
    const upper = d.placed.filter((p) => p.series.round.startsWith('upper')).map((p) => p.middle);
    expect(Math.min(...lower)).toBeGreaterThan(Math.max(...upper));
  });

  it('stays within its height', () => {
    for (const p of d.placed) {
      expect(p.middle).toBeGreaterThanOrEqual(0.5);
      expect(p.middle).toBeLessThanOrEqual(d.rows - 0.5 + 1e-9);
    }
  });

  it('is none for a round robin', () => {
    const b = bracket();
    b.series[13]!.red.from = 'T1';
    expect(drawingOf(b.series)).toBeUndefined();
  });
});

describe('ways', () => {
  const { series } = bracket();
  it.each([
    [1, 'winner to P7, loser to P5'],
    [5, 'winner to P10, loser is out'],
    [11, 'winner to the final, loser to P13'],
    [14, 'winner is champion']
  ])('of series %i', (n, words) => expect(ways(series, series[n - 1]!)).toBe(words));

  it('fits a narrow box', () => {
    expect(waysShort(series, series[0]!)).toBe('↑ P7 ↓ P5');
    expect(waysShort(series, series[12]!)).toBe('↑ final ↓ out');
    expect(waysShort(series, series[13]!)).toBe('');
  });

  it('names a side that is not known', () => {
    expect(fromWords(series, series[8]!.red)).toBe('Loser of P7');
    expect(fromWords(series, series[13]!.blue)).toBe('Winner of P13');
  });
});

describe('both futures', () => {
  it('of a game that ends the series', () => {
    const b = bracket();
    const [win, lose] = futures(b, ourSeries(b, 1)!, 1);
    expect(win).toMatchObject({ match: 'P7', side: 'red', between: 5 });
    expect(win!.rivals).toEqual([
      { alliance: 4, chance: 0.8 },
      { alliance: 5, chance: 0.2 }
    ]);
    expect(lose).toMatchObject({ match: 'P5', side: 'red', between: 3 });
    expect(lose!.rivals).toEqual([
      { alliance: 5, chance: 0.8 },
      { alliance: 4, chance: 0.2 }
    ]);
  });

  it('of a final that takes two', () => {
    const b = bracket();
    const f = b.series[13]!;
    Object.assign(f, {
      open: true,
      match: 'F2',
      red: { from: 'W11', won: 1, alliance: 4 },
      blue: { from: 'W13', won: 0, alliance: 1 }
    });
    for (const s of b.series.slice(0, 13)) s.winner = 8;
    const [win, lose] = futures(b, f, 1);
    expect(win).toMatchObject({ match: 'F3', side: 'blue', rivals: [{ alliance: 4, chance: 1 }] });
    expect(lose).toMatchObject({ end: 'We end 2nd.' });
    expect(futures(b, f, 4)[0]).toMatchObject({ end: 'We are champion.' });
  });

  it('counts who was drawn to come that far when nothing is decided', () => {
    const b = bracket();
    const s = b.series[10]!; // W7 – W8
    s.reach = [0.5, 0.4, 0.1, 0, 0, 0, 0, 0];
    b.series[7]!.reach = [0, 0.9, 0.5, 0, 0, 0, 0, 0];
    expect(rivals(b, s, 'blue', 1).map((r) => [r.alliance, Number(r.chance.toFixed(3))])).toEqual([
      [2, 0.8],
      [3, 0.2]
    ]);
  });
});

describe('turn-round', () => {
  const at = (id: string, minute: number) => ({
    match: id,
    play: 1,
    starts_at: new Date(Date.UTC(2031, 4, 17, 13, minute)).toISOString(),
    red: { teams: [] },
    blue: { teams: [] }
  });
  it('goes by the plan of the playoffs first', () => {
    expect(minutesApart([at('Q1', 0), at('Q2', 6), at('Q3', 12)])).toBe(6);
    expect(minutesApart([at('Q1', 0), at('Q2', 6), at('P1', 30), at('P2', 40)])).toBe(10);
    expect(minutesApart([])).toBeUndefined();
  });
  it('says minutes, or that nobody knows', () => {
    // (1 + 1)·8 − 2.55 = 13.45
    expect(turnRound(1, 8, game)).toBe(
      'About 13 minutes of turn-round: 1 game between, a start every 8 minutes.'
    );
    expect(turnRound(0, undefined, game)).toBe('Turn-round: no game between; the schedule says no times.');
  });
});

// The same table as TestDecide in stats/bracket/played_test.go.
describe('who won', () => {
  it.each<[string, [number, number?, number?], [number, number?, number?], string]>([
    ['more points', [81, 0, 0], [80, 30, 30], 'red score'],
    ['fewer points', [79, 30, 30], [80, 0, 0], 'blue score'],
    ['tied, autonomous for red', [80, 21, 0], [80, 18, 40], 'red autonomous'],
    ['tied, autonomous for blue', [80, 18, 40], [80, 21, 0], 'blue autonomous'],
    ['tied twice, finish for red', [80, 21, 14], [80, 21, 12], 'red finish'],
    ['tied twice, finish for blue', [80, 21, 2], [80, 21, 12], 'blue finish'],
    ['tied all the way', [80, 21, 14], [80, 21, 14], 'undefined replay'],
    ['none to none', [0, 0, 0], [0, 0, 0], 'undefined replay'],
    ['autonomous not published', [80, undefined, 14], [80, undefined, 2], 'undefined replay'],
    ['autonomous of one side only', [80, 21, 14], [80, undefined, 2], 'undefined replay'],
    ['autonomous tied, finish not published', [80, 21], [80, 21], 'undefined replay']
  ])('%s', (_, red, blue, want) => {
    const d = decide(game, match(red, blue))!;
    expect(`${d.winner} ${d.by}`).toBe(want);
  });

  it('in words', () => {
    expect(decisionWords(game, match([71], [96]))).toBe('Blue wins, 96 to 71.');
    expect(decisionWords(game, match([80, 21, 0], [80, 18, 0]))).toBe(
      '80 to 80: Autonomous decides, red wins.'
    );
    expect(decisionWords(game, match([80, 21, 5], [80, 21, 5]))).toBe(
      '80 to 80, and all that decides is equal: it is played again.'
    );
    expect(decisionWords(game, match([80], [80, 21, 5]))).toBe(
      '80 to 80, and Autonomous decides and is not entered: enter it, or it is played again.'
    );
  });
});

describe('the first line', () => {
  const plain = (text: string) => text.replaceAll('\u00a0', ' ');

  it('is about us, else about the most likely champion', () => {
    const b = bracket();
    b.alliances[2]!.win = 0.4;
    expect(plain(bracketSentence(b, 1))).toBe(
      'Our alliance 1 wins the event with 13 % and reaches the final with 25 %.'
    );
    expect(plain(bracketSentence(b, undefined))).toBe('Alliance 3 is the most likely champion: 40 %.');
    b.series[13]!.winner = 1;
    expect(plain(bracketSentence(b, 1))).toBe('We are champion.');
  });
});

describe('how hard playoffs are', () => {
  it.each([
    [
      { mean: -0.062, sd: 0.031, matches: 9 },
      'In 9 playoff matches robots do 6 % less than before (± 3); the forecasts here count on it.'
    ],
    [
      { mean: 0.12, sd: 0.002, matches: 1 },
      'In one playoff match robots do 12 % more than before (± 1); the forecasts here count on it.'
    ],
    [
      { mean: 0.001, sd: 0.05, matches: 3 },
      'In 3 playoff matches robots do as much as before (± 5); the forecasts here count on it.'
    ]
  ])('%o', (shift, words) => expect(shiftWords(shift)).toBe(words));
});

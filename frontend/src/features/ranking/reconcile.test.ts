import type { Match } from '$lib/api';
import { describe, expect, it } from 'vitest';
import { readRanking, reconcile, type Ours } from './reconcile';

const teams = ['41', '77', '302', '905', '905B'];

describe('a pasted ranking', () => {
  it.each([
    [
      'tabs, a heading and names',
      'Rank\tTeam\tName\tAvg\n1\t905\tGrist\t2.50\n2\t905B\tGrist, second robot\t2.25'
    ],
    ['commas', '1,905,2.50\n2,905b,2.25'],
    ['spaces, dots and signs', ' 1.  905  2,50 \n\n #2  905B  2,25'],
    ['semicolons', '1;905;2.50\r\n2;905B;2.25']
  ])('%s', (_, text) => {
    const got = readRanking(text, teams);
    expect(got.problems).toEqual([]);
    expect(got.lines.map((l) => [l.rank, l.team, l.numbers.map((n) => [n.value, n.digits])])).toEqual([
      [1, '905', [[2.5, 2]]],
      [2, '905B', [[2.25, 2]]]
    ]);
    expect(got.missing).toEqual(['41', '77', '302']);
  });
  it('says what it cannot read, and keeps the rest', () => {
    const got = readRanking('1 905\n2 9999\n3 905\n4 41', teams);
    expect(got.lines.map((l) => l.team)).toEqual(['905', '41']);
    expect(got.problems).toEqual([
      'Line 2: no rank followed by a team of this event.',
      'Line 3: 905 stands in line 1 already.'
    ]);
  });
});

const ours = (team: string, rank: number, total: number, score: number): Ours => ({
  team,
  rank,
  matches: 4,
  total,
  ranking_points: total / 4,
  figures: [total / 4, score]
});
const order = ['ranking_points', 'score'];
const mine = [ours('905', 1, 10, 80), ours('41', 2, 9, 75), ours('77', 3, 9, 70), ours('302', 4, 4, 60)];
const name = (s: string) => ({ ranking_points: 'Ranking points', score: 'Score' })[s] ?? s;
const won = (n: number, red: string[], blue: string[]): Match => ({
  match: `Q${n}`,
  play: 1,
  starts_at: '',
  red: { teams: red, result: { score: 1 } },
  blue: { teams: blue, result: { score: 0 } }
});
const matches = [
  won(1, ['905', '41'], ['77', '302']),
  won(2, ['905', '77'], ['41', '302']),
  won(3, ['905', '302'], ['41', '77'])
];
const read = (text: string) => readRanking(text, ['41', '77', '302', '905']).lines;

describe('the venue’s ranking and ours', () => {
  it('agree, figures included, to the digits that were written', () => {
    const got = reconcile(
      read('1 905 2.50 80\n2 41 2.25 75\n3 77 2.25 70\n4 302 1.00 60'),
      mine,
      order,
      matches,
      name
    );
    expect(got.sentence).toBe('All 4 robots stand where the game file puts them, figures included.');
    expect(got.columns.map((c) => c.name)).toEqual(['Ranking points a match', 'Score a match']);
  });
  it('differ by a ranking point of one alliance: says which match', () => {
    // At the venue 41 and 77, who met as blue in Q3 only, have one point more.
    const got = reconcile(read('1 905 10\n1 41 10\n1 77 10\n4 302 4'), mine, order, matches, name);
    expect(got.columns[0]!.differ).toEqual([
      { team: '41', official: 10, ours: 9 },
      { team: '77', official: 10, ours: 9 }
    ]);
    expect(got.alliances).toEqual([{ match: 'Q3', side: 'blue', teams: ['41', '77'], points: 1 }]);
    expect(got.sentence).toBe('ranking points in all: 2 of 4 robots differ. Look at Q3 blue first.');
  });
  it('differ in order alone: says which step of the ranking order parts them here', () => {
    const got = reconcile(read('1 905\n2 77\n3 41\n4 302'), mine, order, matches, name);
    expect(got.moved.map((m) => m.team)).toEqual(['77', '41']);
    expect(got.step).toEqual({ above: '77', below: '41', step: 'Score', ours: [70, 75] });
    expect(got.sentence).toMatch(/“Score” decides too early/);
  });
  it('a column that agrees with nothing of ours is left alone', () => {
    const got = reconcile(read('1 905 123\n2 41 7\n3 77 8\n4 302 3'), mine, order, matches, name);
    expect(got.columns).toEqual([]);
    expect(got.sentence).toBe('All 4 robots stand where the game file puts them.');
  });
});

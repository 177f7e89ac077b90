import type { Advice, EntryBody, ListBody, Observation } from '$lib/api';
import type { Game } from '$lib/game/types';
import { stoppedLast } from '$lib/state/stopped';
import { describe, expect, test } from 'vitest';
import { inOurOrder, listsOf, neverOf, shortList, markFor, warningsFor } from './order';
import { drawMove } from './others';
import { Board } from './replay';
import { keyMeans, meant, readRanking } from './typed';

const teams = ['40101', '40115', '40123', '905', '905D'];

test.each([
  ['40115', '40115'],
  ['15', '40115'],
  [' 905d ', '905D'],
  ['905', '905'], // a whole number goes before another's end
  ['1', '40101'],
  ['3', '40123'],
  ['', undefined],
  ['7', undefined]
])('“%s” means %s', (text, want) => {
  expect(meant(text, teams, teams)).toBe(want);
});

test('the end of two numbers means neither, and a number counts by its end only while it may be invited', () => {
  expect(meant('5', ['40115', '905'], ['40115', '905'])).toBeUndefined();
  expect(meant('5', ['40115', '905'], ['905'])).toBe('905');
  expect(meant('40115', ['40115', '905'], ['905'])).toBe('40115');
});

test.each([
  ['Enter', '15', 'accepts'],
  ['Enter', ' ', undefined],
  ['d', '15', 'declines'],
  ['d', '905', undefined], // 905D is a team
  ['N', '905', 'no_show'],
  ['h', '', 'hold'],
  ['z', '', 'undo'],
  ['t', '', 'clock'],
  ['4', '', undefined]
])('key %s after “%s” means %s', (key, text, want) => {
  expect(keyMeans(key, text, teams)).toBe(want);
});

test('a ranking is read from a pasted table, each team once', () => {
  const { ranking, missing } = readRanking('Rank\tTeam\n1\t905d\t2.40\n2\t40115 x\n3\t40115\n4\t905', teams);
  expect(ranking).toEqual(['905D', '40115', '905']);
  expect(missing).toEqual(['40101', '40123']);
});

const entry = (team: string, key: string, more: Partial<EntryBody> = {}) => ({
  record_id: team,
  body: { list: 'l1', team, key, ...more } as EntryBody
});
const entries = [
  entry('40123', 'a0'),
  entry('905', 'a2', { tier: 1 }),
  entry('40115', 'a1', { tier: 1 }),
  entry('40101', 'a3', { never: true, reason: 'tips over' })
];
const lists = listsOf([{ record_id: 'l1', body: { name: 'First' } as ListBody }], entries);
const never = neverOf(lists, entries);

describe('who is left', () => {
  const advice = { candidates: [{ team: '905D' }, { team: '40123' }] } as Advice;
  const now = (t: string) => ({ '40101': 5, '905D': 1 })[t];
  test.each([
    ['l1', ['40115', '905', '40123', '40101', '905D']],
    ['worth', ['905D', '40123', '40101', '905', '40115']],
    ['next', ['40101', '905D', '905', '40115', '40123']]
  ])('by %s', (by, want) => {
    expect(inOurOrder(teams, by, { lists, advice, now })).toEqual(want);
  });
});

test('before our turn the call is the one that is best in most worlds', () => {
  const candidates = [
    { team: '1', best_in: 0.03 },
    { team: '2', best_in: 0.4 }
  ];
  const names = (our_turn: boolean) => shortList({ candidates, our_turn } as Advice).map((c) => c.team);
  expect(names(true)).toEqual(['1', '2']);
  expect(names(false)).toEqual(['2', '1']);
});

test.each([{ removed: true }, { frozen: '2031-03-06T21:15:00Z' }])(
  'a list with %o forbids nobody',
  (more) => {
    const gone = listsOf([{ record_id: 'l1', body: { name: 'First', ...more } as ListBody }], entries);
    expect(neverOf(gone, entries).size).toBe(0);
  }
);

test('what speaks against a call', () => {
  const game = {
    questions: [{ id: 'still', kind: 'number', when: 'match', role: 'stopped_seconds' }]
  } as Game;
  const seen = (team: string, match: string, more: object) =>
    ({ team, match, scout: 'ana', ...more }) as Observation;
  const stopped = stoppedLast(
    [
      seen('905', 'Q9', { answers: { still: 40 } }),
      seen('905', 'Q10', { answers: { still: 0 } }),
      seen('40115', 'Q10', { answers: { still: 30 } }),
      seen('40115', 'Q2', { answers: { still: 0 } }),
      seen('40123', 'Q4', { absent: true }),
      seen('905D', 'Q4', { answers: { still: 9 }, discarded: true })
    ],
    game
  );
  expect(Object.fromEntries(stopped)).toEqual({
    '40115': 'stopped for 30 seconds in Q10, its last match',
    '40123': 'was not there in Q4, its last match'
  });
  const pins = [
    { captain: '40101', team: '40115', kind: 'agreed' },
    { captain: '905', team: '40123', kind: 'agreed' },
    { captain: '905', team: '905D', kind: 'refused' }
  ];
  const say = (team: string) => warningsFor(team, '905', { never, stopped, pins });
  expect(say('40115')).toEqual([
    '40115 stopped for 30 seconds in Q10, its last match',
    '40115 has agreed with 40101'
  ]);
  expect(say('40101')).toEqual(['40101 is never to be picked: tips over (First)']);
  expect(say('40123')).toEqual(['40123 was not there in Q4, its last match']);
  expect(say('905D')).toEqual(['905D would refuse us']);
  const mark = (team: string) => markFor(team, '905', { never, stopped, pins });
  expect(['40101', '40115', '40123', '905D', '905'].map(mark)).toEqual([
    'never',
    'stopped',
    'stopped',
    'refuses',
    ''
  ]);
  const elsewhere = [{ captain: '40101', team: '905D', kind: 'agreed' }];
  expect(markFor('905D', '905', { never, stopped, pins: elsewhere })).toBe('agreed');
});

test('in a rehearsal others do what is pinned', () => {
  const board = Board.start({ alliances: 2, picks: 1, backups: 0 }, ['1', '2', '3', '4', '5', '6']) as Board;
  const pin = (kind: string, team: string) => ({ captain: '1', kind, team });
  const draw = (...pins: ReturnType<typeof pin>[]) =>
    drawMove(
      board,
      () => 1,
      () => 0.5,
      pins
    )?.invites;
  expect(draw()).toBe('2');
  expect(draw(pin('agreed', '6'), pin('wants', '5'))).toBe('6');
  expect(draw(pin('wants', '5'))).toBe('5');
  expect(draw(pin('refused', '2'))).toBe('3');
});

test('a rehearsal is played to its end by moves that the rules allow, the strong ones first', () => {
  const ranking = Array.from({ length: 20 }, (_, i) => String(i + 1));
  let seed = 7;
  const random = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
  const first = new Map<string, number>();
  for (let n = 0; n < 40; n++) {
    const board = Board.start({ alliances: 4, picks: 2, backups: 0 }, ranking) as Board;
    for (let move = drawMove(board, (t) => 20 - Number(t), random); move;) {
      expect(board.move(move)).toBe('');
      move = drawMove(board, (t) => 20 - Number(t), random);
    }
    expect(board.alliances().every((a) => a.picks.length === 2)).toBe(true);
    const pick = board.alliances()[0]!.picks[0]!;
    first.set(pick, (first.get(pick) ?? 0) + 1);
  }
  const strong = ['2', '3', '4', '5'].reduce((n, t) => n + (first.get(t) ?? 0), 0);
  expect(strong).toBeGreaterThan(20);
});

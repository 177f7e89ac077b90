import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import {
  Board,
  nextStep,
  ordered,
  replay,
  toTakeBack,
  type Entry,
  type Formed,
  type Rules,
  type Turn
} from './replay';

interface Vector {
  name: string;
  rules: Rules;
  ranking: string[];
  log: Entry[];
  board: {
    turn: Turn | null;
    alliances: Formed[];
    pool: string[];
    declined: string[];
    gone: string[];
    why_not: Record<string, string>;
  };
  refused: { id: string; rule: string; repeats: boolean }[];
  next_step: number;
  keep: number;
  undo: string[];
}
const vectors = JSON.parse(readFileSync('../testdata/selection/replay.json', 'utf8')) as Vector[];

const start = (rules: Rules, ranking: string[]): Board => {
  const made = Board.start(rules, ranking);
  if (typeof made === 'string') throw new Error(made);
  return made;
};

describe('the server comes to the same board', () => {
  test.each(vectors)('$name', (v) => {
    const { board, refused, made } = replay(start(v.rules, v.ranking), v.log);
    const { turn, why_not, ...teams } = v.board;
    expect(board.turn() ?? null).toEqual(turn);
    expect({
      alliances: board.alliances(),
      pool: board.pool(),
      declined: board.declined(),
      gone: board.gone()
    }).toEqual({ ...teams, alliances: teams.alliances.map((a) => ({ ...a, backups: a.backups ?? [] })) });
    const why = [...v.ranking, '99999'].flatMap((t) => (board.whyNot(t) ? [[t, board.whyNot(t)]] : []));
    expect(Object.fromEntries(why)).toEqual(why_not);
    expect(refused.map(({ id, rule, repeats }) => ({ id, rule, repeats }))).toEqual(v.refused);
    expect(nextStep(v.log)).toBe(v.next_step);
    expect(
      ordered(v.log)
        .slice(v.keep)
        .map((e) => e.id)
    ).toEqual(v.undo);
    // The moves that count, made one after the other, are the board again: what is sent for advice.
    const again = start(v.rules, v.ranking);
    for (const e of made) expect(again.move(e)).toBe('');
    expect(again.alliances()).toEqual(board.alliances());
    // Back to any point: just the moves up to there are left.
    for (let keep = 0; keep <= made.length; keep++) {
      const gone = new Set(toTakeBack(start(v.rules, v.ranking), v.log, keep));
      const rest = replay(
        start(v.rules, v.ranking),
        v.log.filter((e) => !gone.has(e.id))
      );
      expect(rest.made).toEqual(made.slice(0, keep));
    }
  });
});

test('a ranking that cannot start a selection', () => {
  const rules = { alliances: 3, picks: 1, backups: 0 };
  expect(Board.start(rules, ['1', '2'])).toBe('The ranking has 2 teams for 3 alliances.');
  expect(Board.start(rules, ['1', '2', '1'])).toBe('Team 1 stands twice in the ranking.');
});

test('when an alliance chooses next', () => {
  const board = start({ alliances: 3, picks: 2, backups: 0 }, ['1', '2', '3', '4', '5', '6', '7', '8', '9']);
  expect([board.pickOf(3, 1), board.pickOf(3, 2), board.pickOf(1, 2), board.pickOf(1, 3)]).toEqual([
    3,
    4,
    6,
    undefined
  ]);
  board.move({ captain: '1', invites: '5', answer: 'accepts' });
  expect([board.pickOf(1), board.allianceOf('5'), board.allianceOf('3'), board.allianceOf('9')]).toEqual([
    6, 1, 3, 0
  ]);
});

import { describe, expect, it } from 'vitest';
import { keptRehearsal } from './rehearsals';

const rules = { alliances: 2, picks: 1, backups: 0 };
const ranking = ['1', '2', '3', '4', '5'];
const call = (team: string, worth: number, best: string, best_worth: number) => ({
  team,
  worth,
  best,
  best_worth,
  se: 0.01
});

describe('keptRehearsal', () => {
  it.each([
    ['we call and are called beside the best', '1', [call('4', 0.2, '3', 0.25)], ['1', '4'], 0.2, 0.05],
    ['a call above the best of the time costs nothing', '1', [call('4', 0.3, '3', 0.25)], ['1', '4'], 0.3, 0],
    ['we are called', '4', [], ['1', '4'], undefined, 0],
    ['we are in no alliance', '5', [], [], undefined, 0]
  ])('%s', (_, our, calls, ours, end, behind) => {
    const moves = [
      { captain: '1', round: 1, invites: '4', answer: 'accepts' },
      { captain: '2', round: 1, invites: '3', answer: 'accepts' }
    ];
    const got = keptRehearsal('x', { name: 'n', our, ranking, moves, calls }, rules, 'kim');
    expect(got.ours).toEqual(ours);
    expect(got.end).toBe(end);
    expect(got.behind).toBeCloseTo(behind, 12);
  });

  it('a ranking that is too short is no board', () => {
    expect(keptRehearsal('x', { name: 'n', our: '1', ranking: ['1'], moves: [] }, rules, 'kim').ours).toEqual(
      []
    );
  });
});

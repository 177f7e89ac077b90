import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { distinctName } from './names';
import type { Game } from './types';

const game = JSON.parse(readFileSync('../testdata/games/slackwater.json', 'utf8')) as Game;
const named = (id: string) =>
  distinctName(
    game,
    game.actions.find((a) => a.id === id)!
  );

describe('distinctName', () => {
  it('adds the period where two actions have one name', () => {
    expect(named('auto_deck')).toEqual({ name: 'Barrel on deck', period: 'Autonomous' });
    expect(named('deck')).toEqual({ name: 'Barrel on deck', period: 'Driver-controlled' });
  });

  it('leaves a name alone that nobody shares', () => {
    expect(named('hold')).toEqual({ name: 'Barrel in hold', period: undefined });
  });
});

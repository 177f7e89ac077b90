import { nameOf, type Action, type Game } from './types';

/**
 * The name of an action, and its period where another action has the same name
 * ("Barrel on deck" in Autonomous and in Driver-controlled).
 */
export function distinctName(game: Game, action: Action): { name: string; period?: string } {
  const name = nameOf(action);
  const shared = game.actions.some((other) => other !== action && nameOf(other) === name);
  const period = shared ? game.periods.find((p) => p.id === action.period) : undefined;
  return { name, period: period && nameOf(period) };
}

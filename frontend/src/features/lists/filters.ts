// Chips that leave robots of a list out, made from the game file's roles and the
// estimates. A robot of which nothing is known stays: not seen is not "cannot".

import type { Observation, TeamEstimate } from '$lib/api';
import { actionFigures, type ActionFigure } from '$lib/game/actions';
import type { Game } from '$lib/game/types';

export interface Filter {
  id: string;
  label: string;
  help: string;
  keeps(team: string): boolean;
}

/** From this share of matches on a robot "has" something. Our choice. */
const has = 0.5;

export function filtersOf(from: {
  game: Game | undefined;
  estimates: ReadonlyMap<string, TeamEstimate>;
  observations: readonly Observation[];
  /** Robots that stopped or were missing in their last match. */
  stopped: ReadonlyMap<string, string>;
}): Filter[] {
  const { game, estimates, observations, stopped } = from;
  if (!game) return [];
  const out: Filter[] = [];
  const asks = (role: string) => game.questions?.find((q) => q.role === role)?.id;

  const defending = asks('defending_seconds');
  if (defending) {
    const half = Math.max(...game.periods.map((p) => p.seconds)) / 2;
    const defenders = mostly(defending, half, observations);
    out.push({
      id: 'defence',
      label: 'Not defence only',
      help: `leaves out robots that defended for half of the longest period (${half} s) or more on average`,
      keeps: (team) => !defenders.has(team)
    });
  }
  if (asks('stopped_seconds'))
    out.push({
      id: 'ran',
      label: 'Ran in its last match',
      help: 'leaves out robots that stopped or were missing in the last match in which they were watched',
      keeps: (team) => !stopped.has(team)
    });
  for (const { figure, keys, best } of abilities(game)) {
    out.push({
      id: figure.key,
      label: best ? figure.label : `${figure.label} or more`,
      help: `leaves out robots that do it in less than half of their matches${figure.under ? ` (${figure.under})` : ''}`,
      keeps: (team) => {
        const actions = estimates.get(team)?.actions;
        const known = keys.flatMap((k) => actions?.[k]?.mean ?? []);
        return known.length === 0 || known.reduce((a, b) => a + b, 0) >= has;
      }
    });
  }
  return out;
}

/** Teams of which a question in seconds was answered with at least so many on average. */
function mostly(question: string, seconds: number, observations: readonly Observation[]): Set<string> {
  const sums = new Map<string, { sum: number; n: number }>();
  for (const o of observations) {
    const said = o.answers?.[question];
    if (o.discarded || o.absent || typeof said !== 'number') continue;
    const s = sums.get(o.team) ?? { sum: 0, n: 0 };
    sums.set(o.team, { sum: s.sum + said, n: s.n + 1 });
  }
  return new Set([...sums].filter(([, s]) => s.sum / s.n >= seconds).map(([team]) => team));
}

/**
 * What a robot does or does not do in a match and gets points for. Of a choice:
 * this option or one that is worth more.
 */
function abilities(game: Game): { figure: ActionFigure; keys: string[]; best: boolean }[] {
  const figures = actionFigures(game).filter((f) => f.share && f.points > 0);
  return figures.map((figure) => {
    const more = figures.filter((f) => f.action === figure.action && f.points >= figure.points);
    return { figure, keys: more.map((f) => f.key), best: more.length === 1 };
  });
}

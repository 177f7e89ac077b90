// What there is to tell of a robot's own actions, from the game file.

import { distinctName } from './names';
import { nameOf, type Game } from './types';

/** Keys of TeamEstimate.actions: an action's id, or "action:option" of a choice. */
export interface ActionFigure {
  key: string;
  action: string;
  period?: string;
  label: string;
  under?: string;
  share: boolean;
  points: number;
  help: string;
}

/** Cells ask for them again and again; a game does not change, another one is another object. */
const known = new WeakMap<Game, readonly ActionFigure[]>();

/**
 * What there is to show of the robots' own actions. Of a choice the options
 * that are worth points are shown; where none is, all but the first.
 */
export function actionFigures(game: Game): readonly ActionFigure[] {
  let figures = known.get(game);
  if (!figures) known.set(game, (figures = figuresOf(game)));
  return figures;
}

function figuresOf(game: Game): ActionFigure[] {
  const out: ActionFigure[] = [];
  for (const a of game.actions) {
    if (a.by === 'alliance') continue;
    const { name, period } = distinctName(game, a);
    if (a.kind === 'choice') {
      const options = a.options ?? [];
      const paid = options.filter((o) => (o.points ?? 0) !== 0);
      for (const o of paid.length > 0 ? paid : options.slice(1)) {
        out.push({
          key: `${a.id}:${o.id}`,
          action: a.id,
          period: a.period,
          label: nameOf(o),
          under: name,
          share: true,
          points: o.points ?? 0,
          help: `share of matches that end with ${name}: ${nameOf(o)}`
        });
      }
      continue;
    }
    const share = a.kind === 'flag';
    out.push({
      key: a.id,
      action: a.id,
      period: a.period,
      label: name,
      under: period,
      share,
      points: a.points ?? 0,
      help: share ? `share of matches with ${name}` : `${name}, a match${period ? ` (${period})` : ''}`
    });
  }
  return out;
}

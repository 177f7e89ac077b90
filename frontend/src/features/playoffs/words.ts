// A brief in words, short enough for the queue.

import type { Brief, BriefDeed, BriefRobot, Colour } from '$lib/api';
import { fixed, listed, percent } from '$lib/figures';
import { distinctName } from '$lib/game/names';
import { nameOf, type Game } from '$lib/game/types';

/** "3.1 in a hundred". */
export const hundredths = (gain: number): string => `${fixed(Math.abs(gain) * 100)} in a hundred`;

/** "Barrel on deck 4.8", "Mooring: Lifted in 63 %". */
export function deedWords(game: Game | undefined, d: BriefDeed): string {
  const action = game?.actions.find((a) => a.id === d.action);
  const name = game && action ? distinctName(game, action).name : d.action;
  if (d.option) {
    const option = action?.options?.find((o) => o.id === d.option);
    return `${name}: ${option ? nameOf(option) : d.option} in ${percent(d.mean)}`;
  }
  return action?.kind === 'flag' ? `${name} in ${percent(d.mean)}` : `${name} ${fixed(d.mean)}`;
}

export const deeds = (game: Game | undefined, list: readonly BriefDeed[]): string =>
  list.map((d) => deedWords(game, d)).join(', ');

/** "Stops in 6 %. Defended in 2 of 7 matches." */
export function habits(r: BriefRobot): string {
  const out: string[] = [];
  if (r.watched === 0) return 'Nobody watched it.';
  out.push(r.stops > 0 ? `Stops in ${percent(r.stops)}.` : 'Has not stopped.');
  if (r.defence)
    out.push(
      r.defence.matches > 0
        ? `Defended in ${r.defence.matches} of ${r.defence.seen} matches.`
        : 'Has not defended.'
    );
  return out.join(' ');
}

/** "All of us play: 11, 12 and 14." Of more robots than play "Play 11, 12 and 14; 13 sits out. With 13 instead of 14 the chance is 2.1 in a hundred lower." */
export function lineUpWords(brief: Brief): string {
  const [best, next] = brief.lineups ?? [];
  if (!best) return `All of us play: ${listed(brief.plan.jobs.map((j) => j.team))}.`;
  const start = `Play ${listed(best.teams)}${brief.out?.length ? `; ${listed(brief.out)} sits out` : ''}.`;
  if (!next) return start;
  const inside = next.teams.filter((t) => !best.teams.includes(t));
  const outside = best.teams.filter((t) => !next.teams.includes(t));
  const swap = `With ${listed(inside)} instead of ${listed(outside)} the chance to win`;
  if (Math.abs(next.win.gain) <= 2 * next.win.se)
    return `${start} ${swap} is about the same: choose by what you see.`;
  return `${start} ${swap} is ${hundredths(next.win.gain)} ${next.win.gain < 0 ? 'lower' : 'higher'}.`;
}

/** "Defend against 21 by 13: 2.3 in a hundred more." */
export function defendWords(brief: Brief): string {
  const best = [...brief.defend].sort((a, b) => b.win.gain - a.win.gain)[0];
  const sure = best && best.win.gain > 2 * best.win.se;
  const cost = `if who is defended against loses ${percent(brief.assume.loss)} of its points and the defender keeps ${percent(brief.assume.keeps)} of its own`;
  return sure
    ? `Defend against ${best.team} with ${best.by}: ${hundredths(best.win.gain)} more, ${cost}.`
    : `Defending is not sure to gain anything, ${cost}.`;
}

export const chanceOf = (brief: Brief, side: Colour, planned = false): number => {
  const c = (planned ? brief.planned : brief.now).forecast.chance;
  return c[side] + c.tie / 2;
};

/** A robot that seems to be another since one of its matches: in words, and whether somebody has answered. */
import type { Jump, MarkBody } from '$lib/api';
import { compareMatches, fixed, percent } from '$lib/figures';
import { distinctName } from '$lib/game/names';
import { nameOf, type Game } from '$lib/game/types';

/** "Barrel on deck 6.1 → 2.3 a match", "Mooring, Lifted in 80 % → 0 % of matches", "counted points 24.0 → 13.2 a match". */
export function whatChanged(game: Game, jump: Jump): string {
  const action = game.actions.find((a) => a.id === jump.action);
  if (!action) return `counted points ${fixed(jump.before)} → ${fixed(jump.after)} a match`;
  const { name, period } = distinctName(game, action);
  const label = period ? `${name}, ${period}` : name;
  const option = action.options?.find((o) => o.id === jump.option);
  if (option || action.kind === 'flag')
    return `${[label, option && nameOf(option)].filter(Boolean).join(', ')} in ${percent(jump.before)} → ${percent(jump.after)} of matches`;
  return `${label} ${fixed(jump.before)} → ${fixed(jump.after)} a match`;
}

/**
 * Whether a mark on this device answers it: one that says the robot is another
 * from that match or a later one on, or that up to what was looked at it is not.
 */
export const answered = (jump: Jump, marks: readonly MarkBody[]): boolean =>
  marks.some(
    (m) =>
      m.team === jump.team &&
      !m.discarded &&
      (m.kind === 'no_change'
        ? compareMatches(m.match, jump.through) >= 0
        : compareMatches(m.match, jump.match) >= 0)
  );

/** What one can answer, as kinds of a mark. */
export const ANSWERS = [
  ['changed', 'Changed'],
  ['repaired', 'Repaired'],
  ['substitute', 'Substitute'],
  ['no_change', 'No change']
] as const;

/** The mark that an answer makes: a change counts from its match on, no change up to all that was looked at. */
export const markOf = (jump: Jump, kind: (typeof ANSWERS)[number][0]): MarkBody => ({
  team: jump.team,
  match: kind === 'no_change' ? jump.through : jump.match,
  kind
});

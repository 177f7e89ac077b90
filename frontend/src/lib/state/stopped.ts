// Which robots did not run to the end of their last match.

import type { Observation } from '$lib/api';
import { compareMatches, counted } from '$lib/figures';
import type { Game } from '$lib/game/types';

/**
 * Robots that scouts saw stopped, or missing, in the last match in which they
 * were watched, with what was seen.
 */
export function stoppedLast(
  observations: readonly Observation[],
  game: Game | undefined
): Map<string, string> {
  const question = game?.questions?.find((q) => q.role === 'stopped_seconds')?.id;
  const last = new Map<string, Observation[]>();
  for (const o of observations) {
    if (o.discarded) continue;
    const before = last.get(o.team);
    const order = before?.[0] ? compareMatches(o.match, before[0].match) : 1;
    if (order > 0) last.set(o.team, [o]);
    else if (order === 0) before?.push(o);
  }
  const out = new Map<string, string>();
  for (const [team, seen] of last) {
    const match = seen[0]!.match;
    const seconds = Math.max(0, ...seen.map((o) => (question ? Number(o.answers?.[question] ?? 0) : 0)));
    if (seen.some((o) => o.absent)) out.set(team, `was not there in ${match}, its last match`);
    else if (seconds > 0)
      out.set(team, `stopped for ${counted(Math.round(seconds), 'second')} in ${match}, its last match`);
  }
  return out;
}

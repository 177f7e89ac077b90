// What one record says, in one line.

import type { Observation } from '$lib/api';
import { distinctName } from '$lib/game/names';
import { nameOf, type Game } from '$lib/game/types';

/** "Barrel on deck 5 (1 missed)", "Mooring: Lifted": what was watched, in the order of the game file. */
export function saidOf(game: Game, body: Observation): string[] {
  if (body.absent) return ['did not show'];
  const out: string[] = [];
  for (const a of game.actions) {
    const distinct = distinctName(game, a);
    const name = distinct.period ? `${distinct.name} in ${distinct.period.toLowerCase()}` : distinct.name;
    if (a.kind === 'choice') {
      const chosen = body.choices?.[a.id];
      if (!chosen) continue;
      const option = a.options?.find((o) => o.id === chosen.option);
      const words = [option ? nameOf(option) : chosen.option, chosen.tried ? 'tried for more' : undefined];
      const said = words.filter(Boolean).join(', ');
      if (said) out.push(`${name}: ${said}`);
      continue;
    }
    const tally = body.counts?.[a.id];
    if (!tally) continue;
    if (a.kind === 'flag') {
      if (tally.made !== undefined) out.push(`${name}: ${tally.made > 0 ? 'yes' : 'no'}`);
      continue;
    }
    const missed = tally.missed ? ` (${tally.missed} missed)` : '';
    if (tally.made !== undefined) out.push(`${name} ${tally.made}${missed}`);
    else if (tally.missed) out.push(`${name} missed ${tally.missed}`);
  }
  for (const f of game.fouls ?? []) {
    const n = body.fouls?.[f.id];
    if (n) out.push(`${nameOf(f)} ${n}`);
  }
  for (const q of game.questions ?? []) {
    const answer = body.answers?.[q.id];
    if (q.when !== 'match' || answer === undefined || answer === false || answer === '' || answer === 0)
      continue;
    out.push(answer === true ? nameOf(q) : `${nameOf(q)}: ${answer}`);
  }
  return out;
}

/** What the records of a match add up to, beside what the venue published. */
import type { Colour, Match, Observation } from '$lib/api';
import { playedFrom, score } from '$lib/game/score';
import type { Observed } from '$lib/game/observed';
import { nameOf, type Game } from '$lib/game/types';

export interface BesideRow {
  name: string;
  /** What the records add up to; undefined: a robot of the alliance was not watched. */
  seen: Record<Colour, number | undefined>;
  /** What was published; undefined: it was not. */
  official: Record<Colour, number | undefined>;
}

const sides = ['red', 'blue'] as const;

/** Robots of an alliance that nobody watched in this match, or not in every action. */
export function unwatched(game: Game, match: Match, side: Colour, records: readonly Observation[]): string[] {
  return match[side].teams.filter((team) => !records.some((o) => o.team === team && isWhole(game, o)));
}

function isWhole(game: Game, o: Observation): boolean {
  if (o.absent) return true;
  return game.actions.every((a) => {
    if (a.by === 'alliance') return true;
    return a.kind === 'choice' ? o.choices?.[a.id]?.option : o.counts?.[a.id]?.made !== undefined;
  });
}

/** The rows of the table; empty while nothing can be compared. */
export function beside(game: Game, match: Match, records: readonly Observation[]): BesideRow[] {
  const of = records.filter((o) => !o.discarded && (o.play || 1) === (match.play || 1));
  const whole = (side: Colour) =>
    match[side].teams.length > 0 && unwatched(game, match, side, of).length === 0;
  if (!match.red.result || !match.blue.result || !sides.some(whole)) return [];
  const pick = (team: string) =>
    (of.find((o) => o.team === team && isWhole(game, o)) ?? of.find((o) => o.team === team)) as
      Observed | undefined;
  const [red, blue] = score(
    game,
    playedFrom(game, match.red.teams.map(pick)),
    playedFrom(game, match.blue.teams.map(pick))
  );
  const scored = { red, blue };
  const row = (
    name: string,
    seen: (s: Colour) => number,
    official: (s: Colour) => number | undefined
  ): BesideRow => ({
    name,
    seen: { red: whole('red') ? seen('red') : undefined, blue: whole('blue') ? seen('blue') : undefined },
    official: { red: official('red'), blue: official('blue') }
  });
  const own = (s: Colour) => {
    const result = match[s].result;
    return result && result.score - (result.from_fouls ?? 0);
  };
  return [
    row('Score without fouls', (s) => scored[s].points - scored[s].fromFouls, own),
    ...(game.components ?? []).map((c) =>
      row(
        nameOf(c),
        (s) => scored[s].components[c.id] ?? 0,
        (s) => match[s].result?.components?.[c.id]
      )
    )
  ].filter((r) => sides.some((s) => r.seen[s] !== undefined && r.official[s] !== undefined));
}

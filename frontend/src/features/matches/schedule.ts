// The list of matches: what is played, what is next, what is missing.

import type { Colour, Forecast, Match } from '$lib/api';
import { parseMatch, stages, type Stage } from '$lib/figures';
import { isPlayed, lastPlays, sideOf } from '$lib/state/matches';
import { afresh, type Reuse } from '$lib/state/reuse';

export interface MatchLine {
  match: Match;
  stage: Stage;
  played: boolean;
  ours?: Colour;
  forecast?: Forecast;
  /** Robots of the match with at least one record, and robots in the match. */
  watched: number;
  robots: number;
}

/** Teams watched by match and play: "Q12/1" → teams. */
export type Watched = ReadonlyMap<string, ReadonlySet<string>>;

export function watchedTeams(
  observations: readonly { match: string; play?: number; team: string; discarded?: boolean }[]
): Watched {
  const out = new Map<string, Set<string>>();
  for (const o of observations) {
    if (o.discarded) continue;
    const key = `${o.match}/${o.play || 1}`;
    let teams = out.get(key);
    if (!teams) out.set(key, (teams = new Set()));
    teams.add(o.team);
  }
  return out;
}

export function linesOf(
  matches: readonly Match[],
  ourTeam: string | undefined,
  forecasts: readonly Forecast[],
  watched: Watched,
  reuse: Reuse = afresh
): MatchLine[] {
  const byMatch = new Map(forecasts.map((f) => [f.match, f]));
  return lastPlays(matches).map((match) => {
    const teams = [...match.red.teams, ...match.blue.teams];
    const seen = watched.get(`${match.match}/${match.play}`);
    const forecast = byMatch.get(match.match);
    const count = teams.filter((t) => seen?.has(t)).length;
    return reuse(match.match, [match, ourTeam, forecast, count], () => ({
      match,
      stage: parseMatch(match.match)?.stage ?? 'Q',
      played: isPlayed(match),
      ours: sideOf(match, ourTeam),
      forecast,
      watched: count,
      robots: teams.length
    }));
  });
}

export type FilterId = 'all' | 'ours' | 'to-play' | 'played' | 'unwatched';

export const filters: readonly { id: FilterId; name: string }[] = [
  { id: 'all', name: 'All' },
  { id: 'ours', name: 'Ours' },
  { id: 'to-play', name: 'To play' },
  { id: 'played', name: 'Played' },
  { id: 'unwatched', name: 'Records missing' }
];

export function keep(line: MatchLine, filter: FilterId): boolean {
  switch (filter) {
    case 'ours':
      return line.ours !== undefined;
    case 'to-play':
      return !line.played;
    case 'played':
      return line.played;
    case 'unwatched':
      return line.played && line.watched < line.robots;
    default:
      return true;
  }
}

export function byStage(lines: readonly MatchLine[]): { stage: Stage; lines: MatchLine[] }[] {
  return stages
    .map((stage) => ({ stage, lines: lines.filter((l) => l.stage === stage) }))
    .filter((group) => group.lines.length > 0);
}

/**
 * The match that is played next: the first without a result after the last one
 * that has one, so that a result which was never typed in does not hold it up.
 */
export function nextLine(lines: readonly MatchLine[]): MatchLine | undefined {
  const lastPlayed = lines.findLastIndex((l) => l.played);
  return lines.slice(lastPlayed + 1).find((l) => !l.played) ?? lines.find((l) => !l.played);
}

export function ourNextLine(lines: readonly MatchLine[]): MatchLine | undefined {
  const lastPlayed = lines.findLastIndex((l) => l.played);
  return lines.slice(lastPlayed + 1).find((l) => l.ours && !l.played);
}

/** Matches before the last played one that have no result. */
export function skippedLines(lines: readonly MatchLine[]): MatchLine[] {
  const lastPlayed = lines.findLastIndex((l) => l.played);
  return lines.slice(0, Math.max(0, lastPlayed)).filter((l) => !l.played);
}

/** "81 of 96 matches played; Q82 is next, ours is Q84." */
export function matchesSentence(lines: readonly MatchLine[]): string {
  if (lines.length === 0) return 'No schedule yet.';
  const played = lines.filter((l) => l.played).length;
  const start = `${played} of ${lines.length} matches played`;
  const next = nextLine(lines);
  if (!next) return `${start}: all results are in.`;
  const ours = ourNextLine(lines);
  if (!ours) return `${start}; ${next.match.match} is next.`;
  if (ours === next) return `${start}; ours is next, ${next.match.match}.`;
  return `${start}; ${next.match.match} is next, ours is ${ours.match.match}.`;
}

export type Outcome = Colour | 'tie';

export function outcome(m: Match): Outcome | undefined {
  if (!m.red.result || !m.blue.result) return undefined;
  const d = m.red.result.score - m.blue.result.score;
  return d > 0 ? 'red' : d < 0 ? 'blue' : 'tie';
}

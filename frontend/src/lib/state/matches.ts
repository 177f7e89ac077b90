import type { Match, Result, ResultBody } from '$lib/api';
import { compareMatches as compareIds, knownTime } from '$lib/figures';
import { afresh, type Reuse } from './reuse';

/** Matches as they are played: by match, then by play. */
export function compareMatches(
  a: { match: string; play?: number },
  b: { match: string; play?: number }
): number {
  return compareIds(a.match, b.match) || (a.play ?? 1) - (b.play ?? 1);
}

/**
 * The schedule with the results that are known here, as ResultBody.Apply in
 * stats/record/body.go does it: what was entered without a network shows at once.
 */
export function withResults(schedule: Match[], results: ResultBody[], reuse: Reuse = afresh): Match[] {
  const planned = new Map(schedule.map((m) => [`${m.match}/${m.play || 1}`, m]));
  const at = new Map(results.map((r) => [`${r.match}/${r.play || 1}/${r.alliance}`, r]));
  const side = (m: Match, colour: 'red' | 'blue', body: ResultBody | undefined) => {
    const alliance = m[colour];
    if (!body) return alliance;
    if (body.discarded) {
      const { teams, surrogates } = alliance;
      return { teams, surrogates };
    }
    const { score, from_fouls, components, ranking_points, robots, absent, disqualified, cards } = body;
    const result: Result = { score, from_fouls, components, ranking_points, robots };
    return { teams: alliance.teams, surrogates: alliance.surrogates, absent, disqualified, cards, result };
  };
  return [...schedule, ...replays(schedule, results)]
    .map((m) => {
      const play = `${m.match}/${m.play || 1}`;
      const [red, blue] = [at.get(`${play}/red`), at.get(`${play}/blue`)];
      const made = () => ({ ...m, red: side(m, 'red', red), blue: side(m, 'blue', blue) });
      return reuse(play, [planned.get(play), m.red.teams, m.blue.teams, red, blue], made);
    })
    .sort(compareMatches);
}

/** Plays that are known by their result alone, as store/schedule.go does it: the robots of the last planned play meet again. */
function replays(schedule: Match[], results: ResultBody[]): Match[] {
  const last = new Map<string, Match>();
  const known = new Set<string>();
  for (const m of [...schedule].sort(compareMatches)) {
    last.set(m.match, m);
    known.add(`${m.match}/${m.play || 1}`);
  }
  const out: Match[] = [];
  for (const r of results) {
    const play = r.play || 1;
    const planned = last.get(r.match);
    if (!planned || r.discarded || known.has(`${r.match}/${play}`)) continue;
    known.add(`${r.match}/${play}`);
    const lineUp = ({ teams, surrogates }: Match['red']) => ({ teams, surrogates });
    out.push({
      match: r.match,
      play,
      starts_at: '', // nobody planned it
      red: lineUp(planned.red),
      blue: lineUp(planned.blue)
    });
  }
  return out;
}

/** The planned start; undefined: not known. */
export const startOf = (match: Match): Date | undefined => knownTime(match.starts_at);

export const isPlayed = (m: Match): boolean => m.red.result !== undefined && m.blue.result !== undefined;

/** The play that counts of each match, in playing order. */
export function lastPlays(matches: readonly Match[]): Match[] {
  const last = new Map<string, Match>();
  for (const m of matches) {
    const before = last.get(m.match);
    if (!before || (m.play || 1) >= (before.play || 1)) last.set(m.match, m);
  }
  return [...last.values()].sort(compareMatches);
}

/** The side a team plays on; undefined: it is not in the match. */
export function sideOf(m: Match, team: string | undefined): 'red' | 'blue' | undefined {
  if (!team) return undefined;
  if (m.red.teams.includes(team)) return 'red';
  return m.blue.teams.includes(team) ? 'blue' : undefined;
}

/**
 * A team's next match: the first of its own without a result after the last
 * match that has one, so that a result which nobody typed in does not hold it up.
 */
export function nextOf(matches: readonly Match[], team: string | undefined): Match | undefined {
  const plays = lastPlays(matches);
  return plays.slice(plays.findLastIndex(isPlayed) + 1).find((m) => !isPlayed(m) && sideOf(m, team));
}

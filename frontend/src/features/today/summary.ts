// What Today says: the state in one sentence, our next match, what is missing.

import type { Forecast, Match, Observation, Suspect, TeamEstimate } from '$lib/api';
import { capital, compareMatches, counted, inWords, listed, parseMatch } from '$lib/figures';
import { isPlayed, lastPlays, sideOf } from '$lib/state/matches';

export interface State {
  matches: readonly Match[];
  observations: readonly Observation[];
  ourTeam: string | undefined;
}

/**
 * "81 of 96 matches played, 460 records in."; of playoffs "96 qualification and
 * 3 playoff matches played": how many there will be is not known.
 */
export function stateSentence(s: State): string {
  const matches = lastPlays(s.matches);
  const records = s.observations.filter((o) => !o.discarded).length;
  const said = records === 0 ? 'no record yet' : `${counted(records, 'record')} in`;
  if (matches.length === 0) {
    return records === 0 ? 'Nothing has been played or recorded yet.' : `No schedule yet, ${said}.`;
  }
  const inPlayoffs = (m: Match) => ['P', 'F'].includes(parseMatch(m.match)?.stage ?? '');
  const playoffs = matches.filter(inPlayoffs);
  if (playoffs.length > 0) {
    const before = matches.filter((m) => parseMatch(m.match)?.stage === 'Q' && isPlayed(m)).length;
    return `${before} qualification and ${counted(playoffs.filter(isPlayed).length, 'playoff match', 'playoff matches')} played, ${said}.`;
  }
  return `${matches.filter(isPlayed).length} of ${matches.length} matches played, ${said}.`;
}

export interface Missing {
  id: string;
  text: string;
  /** Path below the event. */
  to: string;
}

const few = (ids: string[]): string =>
  ids.length <= 4 ? listed(ids) : `${ids.slice(0, 3).join(', ')} and ${ids.length - 3} more`;

/** What somebody should see to, the most pressing first. */
export function missingOf(
  s: State,
  estimates: readonly TeamEstimate[] | undefined,
  disagreeing: readonly { match?: string }[],
  teams: readonly string[],
  suspects: readonly Pick<Suspect, 'kind' | 'match'>[] = []
): Missing[] {
  const out: Missing[] = [];
  const matches = lastPlays(s.matches);
  if (teams.length === 0) out.push({ id: 'teams', text: 'The event has no team list yet.', to: '/set-up' });
  if (matches.length === 0) out.push({ id: 'schedule', text: 'There is no schedule yet.', to: '/set-up' });
  if (!s.ourTeam && teams.length > 0) {
    out.push({
      id: 'our-team',
      text: 'Our team was not chosen yet: forecasts cannot be told from our side.',
      to: '/set-up'
    });
  }

  if (disagreeing.length > 0) {
    const at = [...new Set(disagreeing.flatMap((r) => r.match ?? []))].sort(compareMatches);
    const where = at.length > 0 ? `, in ${few(at)}` : '';
    out.push({
      id: 'disagree',
      text:
        disagreeing.length === 1
          ? `Two versions of one record disagree${where}.`
          : `${disagreeing.length} records disagree${where}.`,
      to: '/history'
    });
  }

  // What nobody watched, and which records disagree, stands here by itself.
  const doubts = suspects.filter((x) => x.kind !== 'missing' && x.kind !== 'disagree');
  if (doubts.length > 0) {
    const at = few([...new Set(doubts.map((x) => x.match))].sort(compareMatches));
    out.push({
      id: 'doubts',
      text:
        doubts.length === 1
          ? `One doubt about what was recorded, in ${at}.`
          : `${capital(inWords(doubts.length))} doubts about what was recorded, in ${at}.`,
      to: '/truth'
    });
  }

  const last = matches.findLastIndex(isPlayed);
  // Of practice matches nobody publishes results.
  const skipped = matches
    .slice(0, Math.max(0, last))
    .filter((m) => !isPlayed(m) && parseMatch(m.match)?.stage !== 'W');
  if (skipped.length > 0) {
    const ids = skipped.map((m) => m.match);
    out.push({
      id: 'results',
      text: `${ids.length === 1 ? 'The result' : `${capital(inWords(ids.length))} results`} of ${few(ids)} ${ids.length === 1 ? 'is' : 'are'} missing.`,
      to: `/matches/${ids[0]}#result`
    });
  }

  const seen = new Set(
    s.observations.filter((o) => !o.discarded).map((o) => `${o.match}/${o.play || 1}/${o.team}`)
  );
  const holes = matches.filter((m) => {
    const stage = parseMatch(m.match)?.stage;
    if (!isPlayed(m) || stage === 'W') return false;
    return [...m.red.teams, ...m.blue.teams].some((t) => !seen.has(`${m.match}/${m.play}/${t}`));
  });
  if (holes.length > 0) {
    const robots = holes.reduce(
      (n, m) =>
        n + [...m.red.teams, ...m.blue.teams].filter((t) => !seen.has(`${m.match}/${m.play}/${t}`)).length,
      0
    );
    out.push({
      id: 'records',
      text: `${counted(robots, 'robot was', 'robots were')} not watched in ${
        holes.length === 1 ? holes[0]!.match : `${holes.length} played matches`
      }.`,
      to: holes.length === 1 ? `/matches/${holes[0]!.match}` : '/matches'
    });
  }

  const unknown = (estimates ?? []).filter((e) => e.matches > 0 && e.watched === 0).map((e) => e.team);
  if (unknown.length > 0) {
    out.push({
      id: 'unknown',
      text: `Nobody has watched ${few(unknown)} yet.`,
      to: unknown.length === 1 ? `/robots/${unknown[0]}` : '/robots'
    });
  }
  return out;
}

/** Our own matches that are still to come, in playing order. */
export function ourRest(s: State): Match[] {
  return lastPlays(s.matches).filter((m) => !isPlayed(m) && sideOf(m, s.ourTeam));
}

export function forecastOf(forecasts: readonly Forecast[] | undefined, match: string): Forecast | undefined {
  return forecasts?.find((f) => f.match === match);
}

export interface Phase {
  text: string;
  /** Paths below the event, with what their buttons say. */
  links: { to: string; text: string }[];
}

/** What comes once every qualification match is played; undefined before. */
export function phaseOf(matches: readonly Match[], moves: number): Phase | undefined {
  const plays = lastPlays(matches);
  const stage = (m: Match) => parseMatch(m.match)?.stage;
  const qualification = plays.filter((m) => stage(m) === 'Q');
  if (qualification.length === 0 || !qualification.every(isPlayed)) return undefined;
  const selection = { to: '/selection', text: 'Open the selection board' };
  const bracket = { to: '/playoffs', text: 'Open the bracket' };
  if (plays.some((m) => stage(m) === 'F' && isPlayed(m))) {
    return {
      text: 'The final is on, or over: the bracket says which.',
      links: [bracket, { to: '/report', text: 'After the event' }]
    };
  }
  if (plays.some((m) => stage(m) === 'P' || stage(m) === 'F')) {
    return { text: 'The playoffs are on: the bracket says who meets whom next.', links: [bracket] };
  }
  if (moves > 0) return { text: 'Alliance selection has begun.', links: [selection, bracket] };
  return {
    text: 'Every qualification match is played: alliance selection is next.',
    links: [selection]
  };
}

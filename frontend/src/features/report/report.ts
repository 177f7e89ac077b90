// The event looked back upon: what was expected and what came, how good forecasts
// and scouts were, and our picks in hindsight.

import type { Bracket, Calibration, Colour, Estimates, Match, PlayedForecast } from '$lib/api';
import { counted, fixed, listed, percent } from '$lib/figures';
import { lastPlays, sideOf } from '$lib/state/matches';

export interface OurMatch {
  match: string;
  side: Colour;
  expected: number;
  scored: number;
  /** Chance to win that the forecast gave just before, a tie counting half. */
  chance: number;
  /** 1, ½ for a tie, 0. */
  won: number;
}

/** Our played matches that were forecast, in playing order. A playoff tie counts half here, whoever went on. */
export function ourMatches(
  matches: readonly Match[],
  forecasts: readonly PlayedForecast[],
  team: string | undefined
): OurMatch[] {
  const by = new Map(forecasts.map((f) => [f.match, f]));
  return lastPlays(matches).flatMap((m) => {
    const side = sideOf(m, team);
    const f = by.get(m.match);
    if (!side || !f) return [];
    const other = side === 'red' ? 'blue' : 'red';
    const own = f[`${side}_score`];
    const d = own - f[`${other}_score`];
    return [
      {
        match: m.match,
        side,
        expected: f[side].mean,
        scored: own,
        chance: f.chance[side] + f.chance.tie / 2,
        won: d > 0 ? 1 : d < 0 ? 0 : 0.5
      }
    ];
  });
}

/** "We won 8 of 12 forecast matches; the forecasts gave us 7.3." */
export function winsSentence(ours: readonly OurMatch[]): string {
  if (ours.length === 0) return 'None of our matches was forecast, so there is nothing to compare.';
  const won = ours.reduce((sum, m) => sum + m.won, 0);
  const given = ours.reduce((sum, m) => sum + m.chance, 0);
  // Wins are a sum of independent draws with these chances.
  const sd = Math.sqrt(ours.reduce((sum, m) => sum + m.chance * (1 - m.chance), 0));
  const start = `We won ${fixed(won, Number.isInteger(won) ? 0 : 1)} of ${counted(ours.length, 'forecast match', 'forecast matches')}; the forecasts gave us ${fixed(given)}.`;
  const off = won - given;
  if (Math.abs(off) <= sd) return `${start} That is within the luck of so many matches.`;
  return `${start} We did ${off > 0 ? 'better' : 'worse'} than luck alone explains easily.`;
}

/** The matches that went least as expected, the most surprising first. */
export const surprises = (ours: readonly OurMatch[], most = 3): OurMatch[] =>
  ours
    .filter((m) => Math.abs(m.won - m.chance) > 0.6)
    .sort((a, b) => Math.abs(b.won - b.chance) - Math.abs(a.won - a.chance))
    .slice(0, most);

/** How good all forecasts were, kindly and in one breath. */
export function forecastSentence(c: Calibration): string {
  const t = c.trust;
  if (t.matches === 0) return 'No match was forecast before it was played.';
  const right = Math.round(t.correct * t.matches);
  const start = `${right} of ${t.matches} forecasts were on the right side, and ${percent(t.coverage80)} of the scores fell into intervals that promise 80 %.`;
  return t.level === 'too_little' ? `${start} So few say little.` : start;
}

export interface ScoutLine {
  scout: string;
  records: number;
  words: string;
}

/** What each scout gave, in words that one can read out, in the order of names: it is no ranking. */
export function scoutLines(e: Estimates): ScoutLine[] {
  return [...(e.fit.scouts ?? [])]
    .sort((a, b) => a.scout.localeCompare(b.scout))
    .map((s) => {
      const out: string[] = [];
      if (s.records < 10) out.push('too few records to say more');
      else {
        out.push(
          s.spread <= 0.9
            ? 'steadier than most'
            : s.spread <= 1.3
              ? 'as steady as most'
              : 'counts scatter; a shorter shift may help'
        );
        if (Math.abs(s.bias) > 2 * s.bias_sd && Math.abs(s.bias) > 0.02)
          out.push(
            `counts ${percent(Math.abs(s.bias))} ${s.bias < 0 ? 'low' : 'high'}, which the estimates allow for`
          );
      }
      return { scout: s.scout, records: s.records, words: out.join('; ') };
    });
}

export interface Pick {
  team: string;
  /** "captain", "pick 1". */
  as: string;
  points: number;
  sd: number;
  /** Place by points among all robots. */
  place: number;
}

/** Our alliance as the whole event shows it now, and the best robots that nobody picked. */
export function picksInHindsight(
  b: Bracket,
  e: Estimates,
  ours: number
): { picks: Pick[]; of: number; left: Pick[] } {
  const ranked = [...e.teams].sort((x, y) => y.points - x.points);
  const line = (team: string, as: string): Pick[] => {
    const at = ranked.findIndex((t) => t.team === team);
    const t = ranked[at];
    return t ? [{ team, as, points: t.points, sd: t.sd, place: at + 1 }] : [];
  };
  const taken = new Set(b.alliances.flatMap((a) => a.teams));
  const mine = b.alliances.find((a) => a.alliance === ours)?.teams ?? [];
  return {
    picks: mine.flatMap((t, i) => line(t, i === 0 ? 'captain' : `pick ${i}`)),
    of: ranked.length,
    left: ranked
      .filter((t) => !taken.has(t.team))
      .slice(0, 3)
      .flatMap((t) => line(t.team, 'free'))
  };
}

/** Whether somebody who was free adds surely more than our last pick. */
export function hindsightSentence(h: { picks: Pick[]; left: Pick[] }): string {
  const picks = h.picks.filter((p) => p.as !== 'captain');
  const weakest = [...picks].sort((a, b) => a.points - b.points)[0];
  if (!weakest) return '';
  const better = h.left.filter((f) => f.points - weakest.points > 2 * Math.hypot(f.sd, weakest.sd));
  if (better.length === 0) return `Nobody who stayed free is surely better than any of our picks.`;
  return `${listed(better.map((f) => f.team))} stayed free and would surely have added more than ${weakest.team}: ${fixed(better[0]!.points - weakest.points)} points a match.`;
}

/** The estimates as a file that the next event's analysis takes as prior knowledge. */
export function asPrior(e: Estimates): string {
  const { teams, fit } = e;
  return JSON.stringify({ teams, fit }, null, 2) + '\n';
}

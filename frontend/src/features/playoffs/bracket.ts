// The bracket as it is drawn and told: where series stand, what their sides are
// called, who may come from where, and what our next games lead to.

import type { Bracket, BracketSeries, BracketSide, Colour, Match } from '$lib/api';
import { counted, knownTime, percent } from '$lib/figures';
import { nameOf, type Game } from '$lib/game/types';

export const colours = ['red', 'blue'] as const;
export const opposite = { red: 'blue', blue: 'red' } as const;

export interface Placed {
  series: BracketSeries;
  /** Column, from 0. */
  column: number;
  /** Middle, in heights of one box from the top. */
  middle: number;
}

export interface Drawing {
  placed: Placed[];
  columns: number;
  /** In heights of one box. */
  rows: number;
  /** Series whose winner goes on to the other one. */
  lines: { from: number; to: number }[];
}

const sources = (s: BracketSeries) =>
  colours.map((c) => ({ kind: s[c].from[0], n: Number(s[c].from.slice(1)) }));

/**
 * Where each series stands: a column further right than all that it hangs on,
 * level with those whose winners meet in it. Whoever has lost once is below the
 * others. Nothing for a round robin, which is a table and no tree.
 */
export function drawingOf(series: readonly BracketSeries[]): Drawing | undefined {
  if (series.some((s) => sources(s).some((x) => x.kind === 'T'))) return undefined;
  const column: number[] = [];
  const lower: boolean[] = [];
  for (const s of series) {
    const from = sources(s).filter((x) => x.kind !== 'A');
    column.push(from.length === 0 ? 0 : 1 + Math.max(...from.map((x) => column[x.n - 1] ?? 0)));
    lower.push(!s.final && from.some((x) => x.kind === 'L' || lower[x.n - 1]));
  }
  const middle: number[] = [];
  const rows = [0, 0];
  for (const lane of [0, 1]) {
    const free = new Map<number, number>(); // by column: the next free place
    series.forEach((s, i) => {
      if (Number(lower[i]) !== lane || s.final) return;
      const above = sources(s)
        .filter((x) => x.kind === 'W' && Number(lower[x.n - 1]) === lane)
        .map((x) => middle[x.n - 1] ?? 0);
      const next = free.get(column[i]!) ?? 0.5;
      const at = above.length > 0 ? above.reduce((a, b) => a + b, 0) / above.length : next;
      middle[i] = at;
      free.set(column[i]!, Math.max(next, at) + 1);
      rows[lane] = Math.max(rows[lane]!, at + 0.5);
    });
  }
  const gap = rows[1]! > 0 ? 0.35 : 0;
  series.forEach((s, i) => {
    if (lower[i]) middle[i]! += rows[0]! + gap;
  });
  series.forEach((s, i) => {
    if (s.final) {
      const from = sources(s).map((x) => middle[x.n - 1] ?? 0.5);
      middle[i] = from.reduce((a, b) => a + b, 0) / from.length;
    }
  });
  return {
    placed: series.map((s, i) => ({ series: s, column: column[i]!, middle: middle[i]! })),
    columns: 1 + Math.max(...column),
    rows: rows[0]! + gap + rows[1]!,
    lines: series.flatMap((s, i) => (s.winner_to ? [{ from: i, to: s.winner_to - 1 }] : []))
  };
}

/** The series that is played under a match id, whatever game of it. */
const called = (series: readonly BracketSeries[], n: number) => {
  const s = series[n - 1];
  return s?.final ? 'the final' : (s?.match ?? `series ${n}`);
};

/** "Winner of P1", for a side that is not known yet. */
export function fromWords(series: readonly BracketSeries[], side: BracketSide): string {
  const n = Number(side.from.slice(1));
  switch (side.from[0]) {
    case 'W':
      return `Winner of ${called(series, n)}`;
    case 'L':
      return `Loser of ${called(series, n)}`;
    case 'T':
      return n === 1 ? 'First of the table' : 'Second of the table';
  }
  return side.bye ? 'Nobody' : `Alliance ${n}`;
}

/** "Winner to P7, loser to P5", "loser ends 5th–6th". */
export function ways(series: readonly BracketSeries[], s: BracketSeries): string {
  const out: string[] = [];
  if (s.final) return 'winner is champion';
  if (s.winner_to) out.push(`winner to ${called(series, s.winner_to)}`);
  if (s.loser_to) out.push(`loser to ${called(series, s.loser_to)}`);
  else if (s.out) out.push(`loser is out`);
  return out.join(', ');
}

/** The same for a narrow box: up for the winner, down for the loser. */
export function waysShort(series: readonly BracketSeries[], s: BracketSeries): string {
  if (s.final) return '';
  const to = (n: number | undefined) => (n ? called(series, n).replace('the ', '') : 'out');
  return `↑ ${to(s.winner_to)} ↓ ${to(s.loser_to)}`;
}

const ordinal = (n: number) =>
  `${n}${n % 10 === 1 && n !== 11 ? 'st' : n % 10 === 2 && n !== 12 ? 'nd' : n % 10 === 3 && n !== 13 ? 'rd' : 'th'}`;

/** "5th or 6th". */
export const placeWords = (place: string): string =>
  place
    .split('-')
    .map((p) => ordinal(Number(p)))
    .join(' to ');

/** Rounds in the order in which they begin, with the series of each. */
export function roundsOf(series: readonly BracketSeries[]): { round: string; series: BracketSeries[] }[] {
  const out: { round: string; series: BracketSeries[] }[] = [];
  for (const s of series) {
    const known = out.find((r) => r.round === s.round);
    if (known) known.series.push(s);
    else out.push({ round: s.round, series: [s] });
  }
  return out;
}

/** The alliance of our team; undefined: it is in none. */
export const ourAlliance = (b: Bracket, team: string | undefined): number | undefined =>
  team === undefined ? undefined : b.alliances.find((a) => a.teams.includes(team))?.alliance;

export const sideIn = (s: BracketSeries, alliance: number): Colour | undefined =>
  colours.find((c) => s[c].alliance === alliance);

/** Our next series: the first that is not over and has us in it, also while the opponent is not known. */
export const ourSeries = (b: Bracket, ours: number): BracketSeries | undefined =>
  b.series.find((s) => !s.winner && sideIn(s, ours));

export interface Rival {
  alliance: number;
  chance: number;
}

/**
 * Who may be on the other side of a series, most likely first. Of a series that
 * can be played now its chance tells, else how often each was drawn to come that far.
 */
export function rivals(b: Bracket, s: BracketSeries, side: Colour, not: number): Rival[] {
  const known = s[side].alliance;
  if (known) return known === not ? [] : [{ alliance: known, chance: 1 }];
  const from = b.series[Number(s[side].from.slice(1)) - 1];
  if (!from || s[side].from[0] === 'T') return [];
  const winner = s[side].from[0] === 'W';
  const due = b.next.find((n) => n.red === from.red.alliance && n.blue === from.blue.alliance && from.open);
  if (due) {
    return [
      { alliance: due.red, chance: winner ? due.chance.red : due.chance.blue },
      { alliance: due.blue, chance: winner ? due.chance.blue : due.chance.red }
    ]
      .filter((r) => r.alliance !== not)
      .sort((x, y) => y.chance - x.chance);
  }
  const able = from.reach
    .map((p, k) => ({ alliance: k + 1, chance: p > 0 ? (s.reach[k] ?? 0) : 0 }))
    .filter((r) => r.chance > 0 && r.alliance !== not);
  const all = able.reduce((sum, r) => sum + r.chance, 0);
  return able.map((r) => ({ ...r, chance: r.chance / all })).sort((x, y) => y.chance - x.chance);
}

export interface Future {
  result: 'win' | 'lose';
  /** The series that comes then; undefined: none, see `end`. */
  series?: BracketSeries;
  /** The match of it. */
  match?: string;
  side?: Colour;
  rivals: Rival[];
  /** "We are champion.", "We are 4th." */
  end?: string;
  /** Other games until then. */
  between: number;
}

/** What winning and losing our next game lead to. */
export function futures(b: Bracket, now: BracketSeries, ours: number): Future[] {
  const side = sideIn(now, ours);
  if (!side) return [];
  const other = opposite[side];
  return (['win', 'lose'] as const).map((result): Future => {
    const won = now[side].won + (result === 'win' ? 1 : 0);
    const lost = now[other].won + (result === 'lose' ? 1 : 0);
    if (won < now.wins && lost < now.wins) {
      const number = Number(now.match.slice(1)) + 1;
      const rival = now[other].alliance;
      return {
        result,
        series: now,
        match: `${now.match[0]}${number}`,
        side,
        rivals: rival ? [{ alliance: rival, chance: 1 }] : [],
        between: 0
      };
    }
    const to = result === 'win' ? now.winner_to : now.loser_to;
    const series = to ? b.series[to - 1] : undefined;
    if (!series) {
      const end =
        result === 'win'
          ? 'We are champion.'
          : now.out
            ? `We end ${placeWords(now.out)}.`
            : 'That is the end.';
      return { result, end, rivals: [], between: 0 };
    }
    const from = `${result === 'win' ? 'W' : 'L'}${now.series}`;
    const mine: Colour = series.red.from === from ? 'red' : 'blue';
    const between = b.series.filter(
      (s) => !s.winner && s.series > now.series && s.series < series.series
    ).length;
    return {
      result,
      series,
      match: series.match,
      side: mine,
      rivals: rivals(b, series, opposite[mine], ours),
      between
    };
  });
}

/** Minutes from one start to the next, by the plan of the playoffs, else of all matches; undefined: no plan tells. */
export function minutesApart(matches: readonly Match[]): number | undefined {
  const gaps = (list: readonly Match[]) => {
    const starts = list
      .map((m) => knownTime(m.starts_at)?.getTime())
      .filter((t) => t !== undefined)
      .sort((a, b) => a - b);
    return starts
      .slice(1)
      .map((t, i) => (t - starts[i]!) / 60_000)
      .filter((g) => g > 0 && g <= 60)
      .sort((a, b) => a - b);
  };
  const playoffs = gaps(matches.filter((m) => /^[PF]/.test(m.match)));
  const all = playoffs.length > 0 ? playoffs : gaps(matches);
  return all[all.length >> 1];
}

/** Minutes that a match takes by the game file. */
export const matchMinutes = (game: Game): number =>
  game.periods.reduce((sum, p) => sum + (p.within ? 0 : p.seconds) + (p.pause_after ?? 0), 0) / 60;

/** "About 14 minutes of turn-round: one game between, a start every 8 minutes." */
export function turnRound(between: number, apart: number | undefined, game: Game): string {
  const others = between === 0 ? 'no game between' : `${counted(between, 'game')} between`;
  if (apart === undefined) return `Turn-round: ${others}; the schedule says no times.`;
  const minutes = Math.max(0, Math.round((between + 1) * apart - matchMinutes(game)));
  return `About ${counted(minutes, 'minute')} of turn-round: ${others}, a start every ${Math.round(apart)} minutes.`;
}

export type Decision = { winner: Colour; by: string } | { winner: undefined; by: 'replay' };

/** Who won, as bracket.Decide in stats/bracket/played.go: score, tie order, or nobody; undefined: not played. */
export function decide(game: Game, m: Match): Decision | undefined {
  const red = m.red.result;
  const blue = m.blue.result;
  if (!red || !blue) return undefined;
  if (red.score !== blue.score) return { winner: red.score > blue.score ? 'red' : 'blue', by: 'score' };
  for (const id of game.playoff?.tie_order ?? []) {
    const a = red.components?.[id];
    const b = blue.components?.[id];
    if (a === undefined || b === undefined) return { winner: undefined, by: 'replay' };
    if (a !== b) return { winner: a > b ? 'red' : 'blue', by: id };
  }
  return { winner: undefined, by: 'replay' };
}

/** "Red wins, 96 to 71.", "80 to 80: Autonomous decides, red wins.", "80 to 80, and all that decides is equal: it is played again." */
export function decisionWords(game: Game, m: Match): string {
  const d = decide(game, m);
  if (!d) return '';
  const scores = [m.red.result?.score ?? 0, m.blue.result?.score ?? 0];
  const score = `${Math.max(...scores)} to ${Math.min(...scores)}`;
  if (!d.winner) {
    const missing = (game.playoff?.tie_order ?? []).find(
      (id) => m.red.result?.components?.[id] === undefined || m.blue.result?.components?.[id] === undefined
    );
    const why = missing
      ? `${componentName(game, missing)} decides and is not entered`
      : 'all that decides is equal';
    return `${score}, and ${why}: ${missing ? 'enter it, or it' : 'it'} is played again.`;
  }
  const who = d.winner === 'red' ? 'red' : 'blue';
  if (d.by === 'score') return `${who === 'red' ? 'Red' : 'Blue'} wins, ${score}.`;
  return `${score}: ${componentName(game, d.by)} decides, ${who} wins.`;
}

export function componentName(game: Game | undefined, id: string): string {
  const c = game?.components?.find((x) => x.id === id);
  return c ? nameOf(c) : id;
}

/** The first line of the screen. */
export function bracketSentence(b: Bracket, ours: number | undefined): string {
  const final = b.series.at(-1);
  if (final?.winner)
    return final.winner === ours ? 'We are champion.' : `Alliance ${final.winner} is champion.`;
  const best = [...b.alliances].sort((x, y) => y.win - x.win)[0];
  const mine = b.alliances.find((a) => a.alliance === ours);
  if (!mine)
    return best ? `Alliance ${best.alliance} is the most likely champion: ${percent(best.win)}.` : '';
  const place = Object.entries(mine.places).find(([, p]) => p === 1)?.[0];
  if (mine.win === 0 && place) return `Our alliance ${mine.alliance} ended ${placeWords(place)}.`;
  return `Our alliance ${mine.alliance} wins the event with ${percent(mine.win)} and reaches the final with ${percent(mine.final)}.`;
}

/** "In 9 playoff matches robots do 6 % less than before (± 3)." */
export function shiftWords(s: { mean: number; sd: number; matches: number }): string {
  const share = Math.round(Math.abs(s.mean) * 100);
  const sd = Math.max(1, Math.round(s.sd * 100));
  const many = s.matches === 1 ? 'In one playoff match' : `In ${s.matches} playoff matches`;
  const what = share === 0 ? 'as much as before' : `${share} % ${s.mean < 0 ? 'less' : 'more'} than before`;
  return `${many} robots do ${what} (± ${sd}); the forecasts here count on it.`;
}

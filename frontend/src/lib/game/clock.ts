/** Where a match stands, from the game's periods and the time since its start. */
import type { Game, Period } from './types';

export interface Span {
  period: Period;
  /** Milliseconds since the start of the match. */
  from: number;
  to: number;
}

/** Asked for at every tap and tick; a game's periods never change once it is read. */
const known = new WeakMap<readonly Period[], readonly Span[]>();

/** The periods on the time line. One that lies within another is its last part. */
export function spans(game: Pick<Game, 'periods'>): readonly Span[] {
  let all = known.get(game.periods);
  if (!all) known.set(game.periods, (all = spread(game)));
  return all;
}

function spread(game: Pick<Game, 'periods'>): Span[] {
  const out: Span[] = [];
  let at = 0;
  for (const period of game.periods) {
    const ms = period.seconds * 1000;
    if (period.within) {
      const outer = out.find((s) => s.period.id === period.within);
      if (outer) out.push({ period, from: Math.max(outer.from, outer.to - ms), to: outer.to });
      continue;
    }
    out.push({ period, from: at, to: at + ms });
    at += ms + (period.pause_after ?? 0) * 1000;
  }
  return out;
}

export const matchLength = (game: Pick<Game, 'periods'>): number =>
  Math.max(0, ...spans(game).map((s) => s.to));

/** In a shortened match no part is shorter than this, unless it is so in the real one: less cannot be watched. */
const SHORTEST_S = 8;

/**
 * The game with its periods shortened so that a match takes so many seconds. The parts that would get
 * too short are lifted, and the others share the rest as the game shares it; a period within another
 * is lifted as well, up to half of that one. A length of the match or more changes nothing.
 */
export function shortened<G extends Pick<Game, 'periods'>>(game: G, seconds: number): G {
  const whole = matchLength(game) / 1000;
  if (seconds >= whole) return game;
  const least = (s: number) => Math.min(s, SHORTEST_S);
  const outer = game.periods.filter((p) => !p.within);
  const lifted = outer.filter((p) => (p.seconds * seconds) / whole < least(p.seconds));
  const sum = (all: number[]) => all.reduce((a, b) => a + b, 0);
  const rest =
    (seconds - sum(lifted.map((p) => least(p.seconds)))) / (whole - sum(lifted.map((p) => p.seconds)));
  const length = new Map<string, number>();
  for (const p of game.periods) {
    const around = length.get(p.within ?? '');
    const now = lifted.includes(p) ? least(p.seconds) : p.seconds * rest;
    length.set(p.id, around === undefined ? now : Math.min(Math.max(now, least(p.seconds)), around / 2));
  }
  const periods = game.periods.map((p) => ({
    ...p,
    seconds: length.get(p.id) ?? p.seconds,
    ...(p.pause_after ? { pause_after: p.pause_after * rest } : {})
  }));
  return { ...game, periods };
}

export interface Now {
  /** The period that runs, the innermost; undefined: a pause, or over. */
  period: Period | undefined;
  /** The outer period that leads the form: during a pause already the next. */
  page: string;
  /** Milliseconds left in the outer period or pause. */
  left: number;
  over: boolean;
}

/** Where the match stands at a time since its start. */
export function nowAt(game: Pick<Game, 'periods'>, ms: number): Now {
  const all = spans(game);
  const outer = all.filter((s) => !s.period.within);
  const current = outer.find((s) => ms < s.to) ?? outer.at(-1);
  if (!current) return { period: undefined, page: '', left: 0, over: true };
  const over = ms >= current.to;
  const running = ms >= current.from && !over;
  const inner = all.findLast((s) => s.period.within === current.period.id && ms >= s.from && ms < s.to);
  return {
    period: running ? (inner?.period ?? current.period) : undefined,
    page: current.period.id,
    left: over ? 0 : ms < current.from ? current.from - ms : current.to - ms,
    over
  };
}

/** The page of the form that a period's actions stand on: the outermost period around it. */
export function pageOf(game: Pick<Game, 'periods'>, period: string | undefined): string | undefined {
  let at = game.periods.find((p) => p.id === period);
  for (let i = 0; at?.within && i < game.periods.length; i++) {
    const outer = at.within;
    at = game.periods.find((p) => p.id === outer);
  }
  return at?.id;
}

/** `1:05`. */
export function clockText(ms: number): string {
  const s = Math.max(0, Math.ceil(ms / 1000));
  return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, '0')}`;
}

/**
 * Two tablets watched one match, and each has its own clock, started by its own
 * first tap. Moments that both tapped say by how much the clocks differ.
 */
import { sheetOf, type Observed } from './observed';
import { recent, startQuestion, tappable } from './sheet';
import type { Game } from './types';

/** One thing that was done, in milliseconds since the start by the clock of that tablet. */
export interface Moment {
  at: number;
  id: string;
}

export interface Alignment {
  /** Milliseconds that the second clock has to be put on, so that both tell the same time. */
  shift: number;
  /** Moments that both have, at that shift. */
  pairs: number;
  /** Another shift, far from this one, would give as many pairs: the moments do not decide. */
  open: boolean;
}

/** So far apart two taps may be of one moment. People's reactions differ by less than a second; no source. */
const ONE_MOMENT_MS = 1500;
/** Fewer shared moments than this may be chance. No source. */
export const ENOUGH = 3;

/** What a record's time line says was done and stands, in order; of the whole alliance only, if asked. */
export function momentsOf(game: Game, o: Observed, alliance: boolean): Moment[] {
  const ofAlliance = new Set(game.actions.filter((a) => a.by === 'alliance').map((a) => a.id));
  const ids = new Set([...tappable(game)].filter((id) => !alliance || ofAlliance.has(id)));
  return recent(sheetOf(game, o), ids, Infinity)
    .map(({ at, id }) => ({ at, id }))
    .toSorted((a, b) => a.at - b.at);
}

/**
 * The shift that lets most moments meet, each with one other of its own action;
 * of the moments that meet there the median difference. undefined: nothing in common.
 */
export function align(first: readonly Moment[], second: readonly Moment[]): Alignment | undefined {
  const theirs = byId(second);
  const shared = [...byId(first)].flatMap(([id, ours]) => {
    const others = theirs.get(id);
    return others ? [{ ours, others }] : [];
  });
  const differences = shared.flatMap(({ ours, others }) => ours.flatMap((a) => others.map((b) => a - b)));
  const tries = differences.map((about) => {
    const met = shared.flatMap(({ ours, others }) => meeting(ours, others, about));
    const off = met.reduce((sum, d) => sum + Math.abs(d - about), 0);
    return { about, met, off };
  });
  // Of shifts that are as good, the one at which they meet closest.
  tries.sort((a, b) => b.met.length - a.met.length || a.off - b.off || Math.abs(a.about) - Math.abs(b.about));
  const [best] = tries;
  if (!best) return undefined;
  const shift = Math.round(median(best.met));
  return {
    shift,
    pairs: best.met.length,
    open: tries.some(
      (t) => t.met.length === best.met.length && Math.abs(median(t.met) - shift) > 2 * ONE_MOMENT_MS
    )
  };
}

/** A record with its time line, and the part that was watched, so much later; what it counts stays as it is. */
export function moved<T extends Observed>(game: Game, o: T, ms: number): T {
  const start = startQuestion(game)?.id;
  const later = (at: number) => Math.max(0, at + ms);
  const out: T = { ...o };
  // Where it stood at the start was at the start, by any clock.
  out.taps = o.taps?.map(([at, id, ...rest]) => [id === start ? at : later(at), id, ...rest]) as T['taps'];
  if (o.from !== undefined) out.from = later(o.from);
  if (o.to !== undefined) out.to = later(o.to);
  return out;
}

function byId(moments: readonly Moment[]): Map<string, number[]> {
  const out = new Map<string, number[]>();
  for (const { at, id } of moments) out.set(id, [...(out.get(id) ?? []), at]);
  return out;
}

/** The differences of those that meet when the second are shifted; both are in order. */
function meeting(ours: readonly number[], others: readonly number[], shift: number): number[] {
  const out: number[] = [];
  for (let i = 0, j = 0; i < ours.length && j < others.length;) {
    const difference = (ours[i] ?? 0) - (others[j] ?? 0);
    if (Math.abs(difference - shift) <= ONE_MOMENT_MS) {
      out.push(difference);
      i++;
      j++;
    } else if (difference < shift) i++;
    else j++;
  }
  return out;
}

function median(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  const high = sorted[half] ?? 0;
  return sorted.length % 2 === 1 ? high : ((sorted[half - 1] ?? 0) + high) / 2;
}

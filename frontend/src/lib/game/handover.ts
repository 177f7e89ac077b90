/** A match that is not watched by one scout from start to end: parts, wrong robots, tablets that were off. */
import { emptySheet, type Sheet } from './sheet';
import { spans } from './clock';
import type { Game } from './types';

/** This scout watches until now; somebody else goes on. */
export const handOn = (s: Sheet, at: number): Sheet => ({ ...s, to: at });

/** An empty sheet with the same clock, watched from now: another robot, noticed in mid-match. */
export function goOnWith(s: Sheet, at: number, team: string): Sheet {
  const next = emptySheet(s.match, s.play, team, s.scout);
  return s.started === undefined ? next : { ...next, started: s.started, from: at };
}

/**
 * Takes over a match that runs already. Until the scout has set the clock it
 * stands at the start of the longest part: that is where most of a match lies.
 */
export function takeOver(game: Pick<Game, 'periods'>, s: Sheet, at: number): Sheet {
  const [longest] = spans(game).toSorted((a, b) => b.to - b.from - (a.to - a.from));
  return { ...s, started: at - (longest?.from ?? 0), from: at };
}

/** The whole match was watched after all. */
export function whole(s: Sheet): Sheet {
  const all = { ...s };
  delete all.from;
  delete all.to;
  return all;
}

/** Shorter than this a tablet that was off is a reload. */
const RELOAD_MS = 15_000;

export interface Gap {
  /** Milliseconds since 1970. */
  from: number;
  to: number;
  /** The match was over when the tablet came back. */
  over: boolean;
}

/** When the tablet was off while the match ran; `seen`: when it was last on. */
export function gapOf(s: Sheet, length: number, seen: number | undefined, now: number): Gap | undefined {
  if (s.started === undefined || s.absent || seen === undefined) return undefined;
  const end = s.started + length;
  const to = Math.min(now, end);
  return to - seen < RELOAD_MS ? undefined : { from: seen, to, over: now >= end };
}

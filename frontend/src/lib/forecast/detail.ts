// A match's forecast in detail: spreads as dots, chances of ranking points, and what became of it.

import type { Colour, Distribution, Forecast, MatchForecast, ScoreSpread, WhatIfRequest } from '$lib/api';
import { colourName, fixed, normalCdf, percent, scaleOf, type Scale } from '$lib/figures';
import { nameOf, type Game } from '$lib/game/types';

export interface Dot {
  /** 0 … 1 of the scale, the middle of the dot's column. */
  x: number;
  /** Dots below it in its column. */
  above: number;
}

/** One scale for both spreads, from the lowest to the highest quantile. */
export function dotScale(sides: readonly Distribution[], also: readonly number[] = []): Scale {
  const all = [...sides.flatMap((d) => d.quantiles), ...also];
  if (all.length === 0) return scaleOf(0, 1);
  const low = Math.min(...all);
  const high = Math.max(...all);
  const pad = Math.max(2, (high - low) * 0.04);
  return scaleOf(low - pad, high + pad);
}

/** Equally likely values as dots, stacked where they fall into one column. */
export function dotsOf(quantiles: readonly number[], scale: Scale, columns: number): Dot[] {
  const stacked = new Map<number, number>();
  return quantiles.map((q) => {
    const column = Math.min(columns - 1, Math.floor(scale.at(q) * columns));
    const above = stacked.get(column) ?? 0;
    stacked.set(column, above + 1);
    return { x: (column + 0.5) / columns, above };
  });
}

/** How high the highest stack is. */
export const stackHeight = (dots: readonly Dot[]): number => 1 + Math.max(0, ...dots.map((d) => d.above));

/** A mean and its interval as shares of a scale. */
export interface Bars {
  mean: number;
  from: number;
  to: number;
}

export function barsOf(f: Forecast, side: Colour, scale: Scale): Bars {
  const s = f[side];
  return { mean: scale.at(s.mean), from: scale.at(s.p10), to: scale.at(s.p90) };
}

/** The value below which a share of the equally likely ones lies; they stand at (i + ½)/n. */
export function quantileAt(quantiles: readonly number[], share: number): number | undefined {
  const n = quantiles.length;
  if (n === 0) return undefined;
  const at = Math.min(n - 1, Math.max(0, share * n - 0.5));
  const low = Math.floor(at);
  const from = quantiles[low] ?? 0;
  const to = quantiles[Math.min(n - 1, low + 1)] ?? from;
  return from + (to - from) * (at - low);
}

/** The shares that the table behind the picture shows. */
export const shares = [0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975];

export function dotsWords(side: Colour, d: Distribution): string {
  const q = (share: number) => fixed(quantileAt(d.quantiles, share), 0);
  return `${colourName[side]}: half of the scores between ${q(0.25)} and ${q(0.75)}, nineteen in twenty between ${q(0.025)} and ${q(0.975)}, the middle one ${q(0.5)}.`;
}

export interface PointRow {
  id: string;
  name: string;
  red: number | undefined;
  blue: number | undefined;
  /** Gained or not, once it is known. */
  redGot?: boolean | undefined;
  blueGot?: boolean | undefined;
}

/** The ranking points that have a chance or an outcome, in the order of the game file. */
export function pointRows(
  game: Game | undefined,
  forecast: Forecast | undefined,
  actual?: MatchForecast['actual']
): PointRow[] {
  return (
    (game?.ranking_points ?? [])
      // Who wins and ties is said by other words beside it.
      .filter((p) => p.when !== 'win' && p.when !== 'tie')
      .map((p) => ({
        id: p.id,
        name: nameOf(p),
        red: forecast?.ranking_points?.red?.[p.id],
        blue: forecast?.ranking_points?.blue?.[p.id],
        redGot: actual?.ranking_points.red?.[p.id],
        blueGot: actual?.ranking_points.blue?.[p.id]
      }))
      .filter(
        (r) =>
          r.red !== undefined || r.blue !== undefined || r.redGot !== undefined || r.blueGot !== undefined
      )
  );
}

/** Where a score fell in what was expected of it. */
export function fell(expected: ScoreSpread, score: number): string {
  if (score >= expected.p10 && score <= expected.p90) return 'as expected';
  const p =
    expected.sd > 0 ? normalCdf((score - expected.mean) / expected.sd) : score < expected.mean ? 0 : 1;
  return score < expected.p10
    ? `lower than ${percent(1 - p)} of what was expected`
    : `higher than ${percent(p)} of what was expected`;
}

/** "Red won, which the forecast gave 72 %." */
export function afterwards(forecast: Forecast, actual: NonNullable<MatchForecast['actual']>): string {
  const d = actual.red_score - actual.blue_score;
  if (d === 0) return `A tie, which the forecast gave ${percent(forecast.chance.tie)}.`;
  const side: Colour = d > 0 ? 'red' : 'blue';
  const p = forecast.chance[side];
  const surprise = p < 0.33 ? ', a surprise' : '';
  return `${colourName[side]} won, which the forecast gave ${percent(p)}${surprise}.`;
}

/** What is assumed of one robot's place in a match. */
export interface Assumed {
  /** Who plays instead; empty: nobody. */
  instead: string;
  stops: boolean;
  /** The opponent that it defends against; empty: none. */
  against: string;
  /** Share of its points that the opponent loses, and that the defender keeps. */
  loss: number;
  keeps: number;
}

export const nothingAssumed: Assumed = { instead: '', stops: false, against: '', loss: 0.2, keeps: 0.5 };

const differs = (a: Assumed) => a.instead !== '' || a.stops || a.against !== '';

export const anyAssumed = (all: Readonly<Record<string, Assumed>>): boolean =>
  Object.values(all).some(differs);

/**
 * The teams that play after all replacements, by the place they are in, and the
 * steps to it. Places are named by who stands in them now; two that both play
 * change places.
 */
export function playing(
  places: readonly string[],
  all: Readonly<Record<string, Assumed>>
): { now: Map<string, string>; replace: { out: string; in: string }[] } {
  const now = new Map(places.map((t) => [t, t]));
  const replace: { out: string; in: string }[] = [];
  for (const place of places) {
    const to = all[place]?.instead;
    const out = now.get(place)!;
    if (!to || out === to) continue; // the other half of a change of places
    replace.push({ out, in: to });
    const other = [...now.entries()].find(([, t]) => t === to)?.[0];
    now.set(place, to);
    if (other) now.set(other, out);
  }
  return { now, replace };
}

/** What to ask the server; undefined: nothing is assumed. Line-ups are for a match that may be in no schedule. */
export function whatIfOf(
  match: string,
  places: readonly string[],
  all: Readonly<Record<string, Assumed>>,
  lineUps?: { red: string[]; blue: string[] }
): WhatIfRequest | undefined {
  if (!anyAssumed(all)) return undefined;
  const { now, replace } = playing(places, all);
  const stop = places.filter((p) => all[p]?.stops).map((p) => now.get(p)!);
  const defend = places.flatMap((p) => {
    const a = all[p];
    return a?.against
      ? [{ team: now.get(p)!, against: now.get(a.against) ?? a.against, loss: a.loss, keeps: a.keeps }]
      : [];
  });
  return {
    match,
    ...lineUps,
    ...(replace.length > 0 ? { replace } : {}),
    ...(stop.length > 0 ? { stop } : {}),
    ...(defend.length > 0 ? { defend } : {})
  };
}

/** "Red from 62 to 48 %: 14 points less." */
export function moved(before: Forecast, after: Forecast, side: Colour): string {
  const d = Math.round(after.chance[side] * 100) - Math.round(before.chance[side] * 100);
  const way = d === 0 ? 'no change' : `${Math.abs(d)} ${d > 0 ? 'more' : 'less'} in a hundred`;
  return `${percent(before.chance[side])} → ${percent(after.chance[side])}, ${way}`;
}

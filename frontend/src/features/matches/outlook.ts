// A forecast or a result as a row shows it: numbers, places on a scale, words.

import type { Colour, Forecast } from '$lib/api';
import {
  chanceSentence,
  colourName,
  fixed,
  listed,
  ourChanceSentence,
  percent,
  scaleOf,
  type Scale
} from '$lib/figures';
import { afresh, type Reuse } from '$lib/state/reuse';
import { outcome, type MatchLine } from './schedule';

/** One scale for all matches of a list, from the lowest to the highest score, expected or reached. */
export function scoreScale(lines: readonly MatchLine[], reuse: Reuse = afresh): Scale {
  const values: number[] = [];
  for (const { match, forecast } of lines) {
    for (const side of ['red', 'blue'] as const) {
      const result = match[side].result;
      if (result) values.push(result.score);
      else if (forecast) values.push(forecast[side].p10, forecast[side].p90);
    }
  }
  if (values.length === 0) return scaleOf(0, 1);
  const low = Math.min(...values);
  const high = Math.max(...values);
  const pad = Math.max(1, (high - low) * 0.08);
  return reuse('', [low, high], () => scaleOf(low - pad, high + pad));
}

/** "88", "70–107": the expected score and its 80 % interval in whole points. */
export function expected(f: Forecast, side: Colour): { mean: string; range: string } {
  const s = f[side];
  return { mean: fixed(s.mean, 0), range: `${fixed(s.p10, 0)}–${fixed(s.p90, 0)}` };
}

export function forecastWords(f: Forecast): string {
  const side = (c: Colour) =>
    `${colourName[c]} ${fixed(f[c].mean, 0)} points, 80 % interval ${fixed(f[c].p10, 0)} to ${fixed(f[c].p90, 0)}`;
  return `${side('red')}; ${side('blue')}. ${chanceSentence(f.chance)}`;
}

/** The first line of a match: who won, or what to expect. */
export function outlook(line: MatchLine): string {
  const { match, forecast, ours } = line;
  const red = match.red.result?.score;
  const blue = match.blue.result?.score;
  if (red !== undefined && blue !== undefined) {
    const who = outcome(match);
    if (who === 'tie') return `A tie, ${red} to ${blue}.`;
    const won = who === 'red' ? red : blue;
    const lost = who === 'red' ? blue : red;
    if (ours) return `We ${ours === who ? `won, ${won} to ${lost}` : `lost, ${lost} to ${won}`}.`;
    return `${colourName[who as Colour]} won, ${won} to ${lost}.`;
  }
  if (!forecast) return 'No forecast yet.';
  return ours ? ourChanceSentence(forecast.chance, ours) : chanceSentence(forecast.chance);
}

/** Short words for a cell: "Red 72 %", "Open: red 55 %". */
export function chanceShort(f: Forecast): string {
  const side: Colour = f.chance.red >= f.chance.blue ? 'red' : 'blue';
  const p = f.chance[side];
  return p > 0.66 ? `${colourName[side]} likely, ${percent(p)}` : `Open: ${side} ${percent(p)}`;
}

/** "40101 and 40102 did not show": teams the result names. */
export function resultRemarks(line: MatchLine): string[] {
  const out: string[] = [];
  for (const side of ['red', 'blue'] as const) {
    const { absent, disqualified, cards } = line.match[side];
    if (absent?.length) out.push(`${listed(absent)} did not show`);
    if (disqualified?.length) out.push(`${listed(disqualified)} disqualified`);
    if (cards?.length) out.push(`card for ${listed(cards)}`);
  }
  return out;
}

/** From a plan to records, and what has come of the seats that were planned. */
import type { Match, Observation, RotaBody, RotaPlan, SeatBody } from '$lib/api';
import { compareMatches } from '$lib/figures';
import { seatId, type Change } from '$lib/offline';

/** The usual of what a lead sets. */
export const usual = (robots: number): RotaBody => ({ people: [], seats: 2 * robots, row: 10, rest: 2 });

/**
 * The records that put a plan in force: only seats that change, and those that
 * nobody takes any more. Matches before `from` stay, those too that were played
 * while somebody looked at the plan.
 */
export function changesOf(
  event: string,
  plan: Pick<RotaPlan, 'seats'>,
  from: string,
  seats: readonly SeatBody[]
): Change<'seat'>[] {
  const key = (s: SeatBody) => `${s.match}/${s.scout}`;
  const before = new Map(seats.map((s) => [key(s), s]));
  const ahead = plan.seats.filter((s) => compareMatches(s.match, from) >= 0);
  const planned = new Set(ahead.map(key));
  const gone = seats.filter((s) => s.team && compareMatches(s.match, from) >= 0 && !planned.has(key(s)));
  return [
    ...ahead.filter((s) => JSON.stringify(bare(before.get(key(s)))) !== JSON.stringify(bare(s))),
    ...gone.map(({ match, scout }) => ({ match, scout }))
  ].map((body) => ({ kind: 'seat', recordId: seatId(event, body.match, body.scout), body }));
}

/** A seat with its members in one order, so that the same seat is the same text. */
const bare = (s: SeatBody | undefined) =>
  s && [s.match, s.scout, s.team ?? '', s.reason?.kind ?? '', s.reason?.match ?? '', s.reason?.seen ?? 0];

export type Stand = 'ahead' | 'now' | 'arrived' | 'on its way' | 'missing';

/** So long after the start of a match a record that is not here is missed; a match and time to finish it. */
const PATIENCE_MS = 12 * 60_000;

/** What has come of a seat. start: when the match is to be expected, if anybody knows. */
export function standOf(
  seat: SeatBody,
  observations: readonly Observation[],
  played: boolean,
  start: Date | undefined,
  now: Date
): Stand {
  const mine = observations.some(
    (o) => o.match === seat.match && o.team === seat.team && o.scout === seat.scout && !o.discarded
  );
  if (mine) return 'arrived';
  const since = start ? now.getTime() - start.getTime() : undefined;
  if (since !== undefined && since >= 0 && since < PATIENCE_MS) return played ? 'on its way' : 'now';
  if (played) return since === undefined || since < PATIENCE_MS ? 'on its way' : 'missing';
  return 'ahead';
}

/** The share of what is not known that a plan takes away, against nobody watching; 0 to 1. */
export function taken(plan: Pick<RotaPlan, 'loss' | 'nobody'>): number {
  const open = (l: RotaPlan['loss']) => l.brief + l.list + l.detail + l.asked;
  const all = open(plan.nobody);
  return all > 0 ? Math.max(0, 1 - open(plan.loss) / all) : 0;
}

/** The first match to plan: after the last that has a result. */
export function firstAhead(matches: readonly Match[]): string | undefined {
  const last = matches.findLastIndex((m) => m.red.result !== undefined && m.blue.result !== undefined);
  return matches[last + 1]?.match;
}

/** What is wrong with what was set; empty: nothing. */
export function wrongWith(rota: RotaBody, matches: readonly string[]): string {
  if (rota.people.length === 0) return 'Add somebody who watches.';
  if (rota.people.every((p) => p.away)) return 'Everybody is away; say who is there.';
  if ((rota.row ?? 0) > 0 && (rota.rest ?? 0) < 1)
    return 'A row of matches needs a break of at least one match after it.';
  for (const p of rota.people)
    for (const s of p.shifts ?? []) {
      for (const m of [s.from, s.to])
        if (matches.length > 0 && !matches.includes(m)) return `${p.scout}: there is no match ${m}.`;
      if (compareMatches(s.from, s.to) > 0) return `${p.scout}: ${s.to} comes before ${s.from}.`;
    }
  return '';
}

/** "Q1–Q30, Q41–Q60" as shifts; an error says what cannot be read. Empty text: all the time. */
export function readShifts(text: string): NonNullable<RotaBody['people'][number]['shifts']> | string {
  const out = [];
  for (const part of text.split(/[,;]/).map((p) => p.trim())) {
    if (!part) continue;
    const m = /^([WQPF][1-9]\d*)\s*(?:-|–|to)\s*([WQPF][1-9]\d*)$/i.exec(part);
    if (!m?.[1] || !m[2]) return `“${part}” is no shift. Write the first and the last match, such as Q1–Q30.`;
    out.push({ from: m[1].toUpperCase(), to: m[2].toUpperCase() });
  }
  return out;
}

export const shiftsInWords = (shifts: RotaBody['people'][number]['shifts']): string =>
  (shifts ?? []).map((s) => `${s.from}–${s.to}`).join(', ');

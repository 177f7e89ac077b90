/** Where each scout is: the next match, and whether what was planned has come in. */
import type { Match, RotaBody, SeatBody } from '$lib/api';
import { listed } from '$lib/figures';
import { sittingIn } from '$lib/state/rota';
import type { Stand } from './plan';

/** A match with whom was sent where, and what came of it. */
export interface Line {
  match: Match;
  start: Date | undefined;
  seats: { seat: SeatBody; stand: Stand }[];
}

/** How one scout stands. */
export interface Standing {
  scout: string;
  /** Is planned nowhere for now. */
  away: boolean;
  /** The place in the next match. */
  seat?: SeatBody | undefined;
  /** The next match with a place, when there is none in the next one. */
  again?: string | undefined;
  /** Of the places in played matches: how many there were and how many records of them are here. */
  sent: number;
  came: number;
  onWay: string[];
  /** The latest matches in a row whose record is missing, oldest first. */
  silent: string[];
}

/** Scouts who were sent nowhere in this many of the last planned matches, and are not ahead, are left out. */
const REMEMBERED = 12;

/** All scouts of the rota, by name. past and coming are in playing order. */
export function standings(
  people: RotaBody['people'],
  past: readonly Line[],
  coming: readonly Line[]
): Standing[] {
  const away = new Set(people.filter((p) => p.away).map((p) => p.scout));
  const shown = [...past.slice(-REMEMBERED), ...coming].flatMap((l) => l.seats.map((s) => s.seat.scout));
  const scouts = [...new Set([...people.map((p) => p.scout), ...shown])].sort();
  return scouts.map((scout) => {
    const of = (l: Line) => l.seats.find((s) => s.seat.scout === scout);
    const mine = past.flatMap((l) => of(l) ?? []);
    const silent: string[] = [];
    for (const s of mine.toReversed()) {
      if (s.stand === 'arrived') break;
      if (s.stand === 'missing') silent.unshift(s.seat.match);
    }
    const seat = coming[0] && of(coming[0])?.seat;
    return {
      scout,
      away: away.has(scout),
      seat,
      again: seat ? undefined : coming.find((l) => of(l))?.match.match,
      sent: mine.length,
      came: mine.filter((s) => s.stand === 'arrived').length,
      onWay: mine.filter((s) => s.stand === 'on its way').map((s) => s.seat.match),
      silent
    };
  });
}

/** What came of a scout's places, in a few words; empty: none was played. */
export function recordsInWords({ sent, came, onWay, silent }: Standing): string {
  if (sent === 0) return '';
  if (silent.length > 3) return `nothing of the last ${silent.length}, since ${silent[0]}`;
  if (silent.length > 0) return `${listed(silent)} missing`;
  if (onWay.length > 0) return `${listed(onWay.slice(-2))} on the way`;
  return came === sent ? `all ${sent} came` : `${came} of ${sent} came`;
}

/** Who is missing, for the first line of the screen. */
export function missingInWords(all: readonly Standing[], earlier: number): string {
  const silent = all.filter((s) => s.silent.length > 0 && !s.away);
  if (silent.length > 0) {
    const names = silent.length > 4 ? `${silent.length} scouts` : listed(silent.map((s) => s.scout));
    return `The latest ${silent.length === 1 && silent[0]?.silent.length === 1 ? 'record' : 'records'} of ${names} ${
      silent.length === 1 && silent[0]?.silent.length === 1 ? 'is' : 'are'
    } missing.`;
  }
  if (earlier > 0)
    return `Nobody is missing; ${earlier === 1 ? 'one earlier record' : `${earlier} earlier records`} did not come.`;
  return 'No record is missing.';
}

/** The matches in which others watch and this scout does not, as runs: "Q67–Q68". */
export function restsOf(seats: readonly SeatBody[], scout: string, matches: readonly string[]): string[] {
  const out: string[][] = [];
  let running = false;
  for (const match of matches) {
    const sitting = sittingIn(seats, match);
    if (sitting.length === 0) continue;
    const rests = !sitting.some((s) => s.scout === scout);
    if (rests && running) out.at(-1)?.push(match);
    else if (rests) out.push([match]);
    running = rests;
  }
  return out.map((run) => (run.length > 1 ? `${run[0]}–${run.at(-1)}` : (run[0] ?? '')));
}

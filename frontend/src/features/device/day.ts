/** What this device has for a day without a network, and what it lacks. */
import type { Match, SeatBody } from '$lib/api';
import { counted, listed } from '$lib/figures';
import { sayShell, type Shell } from './words';

/** What is on this device. */
export interface Here {
  shell: Shell;
  /** Without it nothing can be shown or taken in by codes. */
  key: boolean;
  /** Its name; undefined: it was never fetched. */
  game: string | undefined;
  /** In playing order. */
  matches: readonly Pick<Match, 'match'>[];
  /** When the schedule was the server's or a lead's, in words. */
  asOf?: string | undefined;
  seats: readonly SeatBody[];
  /** The scout who is joined here; undefined: a lead or coach. */
  scout: string | undefined;
  /** Open ones. */
  questions: number;
}

export interface Part {
  name: string;
  /** What is here of it, or what to do. */
  said: string;
  missing: boolean;
}

/** A line for each part, the needed ones first; rota and questions are told and never missing. */
export function partsOf(here: Here): Part[] {
  const { matches } = here;
  const last = matches.at(-1)?.match;
  return [
    { name: 'App', said: sayShell(here.shell), missing: here.shell !== 'ready' },
    {
      name: 'Key of the event',
      said: here.key
        ? 'Here: records can be handed over, and what a lead gives out can be taken in.'
        : 'Missing: it comes when this device reaches the server.',
      missing: !here.key
    },
    {
      name: 'Game',
      said:
        here.game === undefined ? 'Missing: it comes when this device reaches the server.' : `${here.game}.`,
      missing: here.game === undefined
    },
    {
      name: 'Schedule',
      said: last
        ? `${counted(matches.length, 'match', 'matches')}, up to ${last}${here.asOf ? `, as of ${here.asOf}` : ''}.`
        : 'Missing: take it in from your lead’s screen, or let this device reach the server.',
      missing: !last
    },
    { name: 'Rota', said: sayRota(here), missing: false },
    { name: 'Questions', said: here.questions ? `${here.questions} open.` : 'None open.', missing: false }
  ];
}

function sayRota({ matches, seats, scout }: Here): string {
  const planned = new Set(seats.filter((s) => s.team && (!scout || s.scout === scout)).map((s) => s.match));
  const ahead = matches.filter((m) => planned.has(m.match));
  const last = ahead.at(-1)?.match;
  if (!last)
    return scout ? 'Nothing for you on this device: you choose whom to watch.' : 'None on this device.';
  const n = new Set(ahead.map((m) => m.match)).size;
  return `${scout ? 'You watch in' : 'Planned for'} ${counted(n, 'match', 'matches')}, up to ${last}.`;
}

/** The sentence above the parts. */
export function sayDay(parts: readonly Part[], scout: boolean): string {
  const device = scout ? 'tablet' : 'device';
  const missing = parts.filter((p) => p.missing).map((p) => p.name.toLowerCase());
  if (missing.length === 0) return `This ${device} can work a day without a network.`;
  return `This ${device} cannot work a day without a network yet: it lacks ${listed(missing.map((m) => `the ${m}`))}.`;
}

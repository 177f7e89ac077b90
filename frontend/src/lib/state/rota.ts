/** Who watches which robot, and why. The plan stands in records of kind "seat", one a scout and match. */
import type { SeatBody } from '$lib/api';

/** Whom a scout is to watch in a match; undefined: nobody, or nothing was planned. */
export const seatOf = (
  seats: readonly SeatBody[],
  match: string,
  scout: string | undefined
): SeatBody | undefined =>
  scout ? seats.find((s) => s.match === match && s.scout === scout && s.team) : undefined;

/** Who watches in a match, in order of name. */
export const sittingIn = (seats: readonly SeatBody[], match: string): SeatBody[] =>
  seats
    .filter((s) => s.match === match && s.team)
    .sort((a, b) => (a.scout < b.scout ? -1 : a.scout > b.scout ? 1 : 0));

/**
 * The scout rests: others were given a robot in this match, this one was given
 * one in others. A scout of whom the plan says nothing is free, not resting.
 */
export const restsIn = (seats: readonly SeatBody[], match: string, scout: string | undefined): boolean =>
  scout !== undefined &&
  !seatOf(seats, match, scout) &&
  seats.some((s) => s.match === match && s.team) &&
  seats.some((s) => s.scout === scout && s.team);

/** The same in a few words, for a table. */
export function whyShort(reason: SeatBody['reason']): string {
  switch (reason?.kind) {
    case 'with_us':
      return `with us ${reason.match}`;
    case 'against_us':
      return `against us ${reason.match}`;
    case 'question':
      return 'asked about';
    case 'never_seen':
      return 'never seen';
    case 'seldom_seen':
      return `seen ${often(reason.seen ?? 0)}`;
    case 'unsure':
      return 'not sure enough';
    case 'second':
      return 'to compare';
  }
  return '';
}

const often = (n: number): string => (n === 1 ? 'once' : n === 2 ? 'twice' : `${n} times`);

/** Why this robot, in one line; a bystander may read it. Empty: nothing was said. */
export function whyInWords(reason: SeatBody['reason']): string {
  const seen = reason?.seen ?? 0;
  switch (reason?.kind) {
    case 'with_us':
      return `It plays with us in ${reason.match}.`;
    case 'against_us':
      return `It plays against us in ${reason.match}.`;
    case 'question':
      return 'Somebody asked something about it.';
    case 'never_seen':
      return 'Nobody has watched it yet.';
    case 'seldom_seen':
      return `It was watched ${often(seen)} so far.`;
    case 'unsure':
      return 'Its numbers are not sure enough yet.';
    case 'second':
      return 'Two scouts watch it, so that counts can be compared.';
  }
  return '';
}

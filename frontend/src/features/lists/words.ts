/** What a list says of itself: on the screen, and in the foot of a print. */
import type { Estimates, ListBody } from '$lib/api';
import { counted, dayAndClock } from '$lib/figures';
import { copyName } from '$lib/state/lists';
import type { Entry } from './order';

/** How many are in order, how many are never picked, and how many of the event's robots are not on the list. */
export function sentenceOf(entries: readonly Entry[], missing: number): string {
  if (entries.length === 0) return 'Nobody is on this list yet.';
  const picks = entries.filter((e) => !e.never).length;
  const never = entries.length - picks;
  const left = missing === 0 ? 'no robot is missing' : `${counted(missing, 'robot')} not on it`;
  return `${counted(picks, 'robot')} in order${never > 0 ? `, ${never} never to be picked` : ''}; ${left}.`;
}

/** Of which event, printed when, and from which data. */
export function footOf(event: string, at: string, estimates: Estimates | undefined): string {
  const fit = estimates?.fit;
  const from = fit
    ? `Estimates after ${counted(fit.matches, 'match', 'matches')} and ${counted(fit.records, 'record')} (data state ${estimates.data_no}).`
    : 'Without estimates.';
  return `${event}. Printed ${at}. ${from}`;
}

/** What a copy is called: one that stays as the list was at that time, or one to go on from. */
export function copyAs(
  { name, purpose }: ListBody,
  at: Date | undefined,
  zone: string,
  dataNo: number | undefined
): ListBody {
  if (!at) return { name: `${name} (2)`.slice(0, 100), ...(purpose ? { purpose } : {}) };
  return {
    name: copyName(name, dayAndClock(at, zone)),
    purpose: `Copy of “${name}”${dataNo ? `, data state ${dataNo}` : ''}`,
    frozen: at.toISOString()
  };
}

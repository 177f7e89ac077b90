/** Who should have a break, kindly and in order of name: never a ranking. */
import type { Duty, RotaBody } from '$lib/api';
import { counted } from '$lib/figures';

/** Watching nothing in so many matches in a row is a break, as the server counts duty (stats/check/duty.go). */
const BREAK = 2;

/** Matches in a row that the rota allows; 0: as many as one likes, or its breaks are too short to be seen. */
export const limitOf = (rota: RotaBody | undefined): number =>
  (rota?.rest ?? 0) >= BREAK ? (rota?.row ?? 0) : 0;

/** One sentence for each who has been on for longer than the limit, or counts less surely the longer on. */
export function relief(duties: readonly Duty[], limit: number): { scout: string; text: string }[] {
  const long = (d: Duty) => limit > 0 && d.matches > limit;
  return duties
    .filter((d) => d.less || long(d))
    .map((d) => {
      const on = `has been on for ${counted(d.matches, 'match', 'matches')}`;
      const since = long(d) ? `${on} without a break` : on;
      return {
        scout: d.scout,
        text: d.less
          ? `${since} and counts less surely than earlier today: time for a break.`
          : `${since}: time for one.`
      };
    })
    .sort((a, b) => (a.scout < b.scout ? -1 : 1));
}

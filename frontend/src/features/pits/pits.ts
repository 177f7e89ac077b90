/** The order of pits, whom a typed text means, and the sentence on top. */
import { meansTeam } from '$lib/figures';

/** "A2" before "A10" before "B1"; robots without a place come last. */
export function nearby(a: string, b: string): number {
  if (!a || !b) return a ? -1 : b ? 1 : 0;
  return a.localeCompare(b, 'en', { numeric: true });
}

export function sentence(visited: number, all: number, again: number): string {
  const been = visited + again;
  const rest = all - been;
  if (been === 0) return `Nobody has visited a pit yet; there are ${all}.`;
  return [
    rest === 0 ? `All ${all} pits were visited.` : `${been} of ${all} pits were visited.`,
    again > 0 ? (again === 1 ? 'One is to be visited again.' : `${again} are to be visited again.`) : ''
  ]
    .filter(Boolean)
    .join(' ');
}

/** Whether a typed text means this pit: its team, or its place from the start. */
export const means = (pit: { team: string; name?: string; pit: string }, text: string): boolean =>
  meansTeam(text, pit.team, pit.name) || pit.pit.toLowerCase().startsWith(text.trim().toLowerCase());

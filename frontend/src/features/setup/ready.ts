import type { Match } from '$lib/api';

/** What is there and what comes next, in a sentence. */
export function sayReady(teams: number, matches: Match[]): string {
  const count = (n: number, one: string) => `${n} ${one}${n === 1 ? '' : one.endsWith('ch') ? 'es' : 's'}`;
  if (teams === 0) return 'First the team list: from a file, pasted, or typed.';
  if (matches.length === 0)
    return `${count(teams, 'team')}. Next the schedule, when it is published; scouts can start without it.`;
  const played = matches.filter((m) => m.red.result && m.blue.result).length;
  return `${count(teams, 'team')}, ${count(matches.length, 'match')}, ${played === 0 ? 'none' : played} played.`;
}

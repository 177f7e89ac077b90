import { counted } from '$lib/figures';
import type { Role } from '$lib/api';
import type { Part } from '$lib/carry';

/** What was taken in, in a sentence. `beside`: records in all, or things that were new; `when` they were given out. */
export function sayTaken(
  what: 'home' | 'out' | 'receipt',
  n: number,
  who = '',
  beside = 0,
  when?: string
): string {
  switch (what) {
    case 'home':
      if (n === 0) return `From ${who}: all ${counted(beside, 'version')} are here already.`;
      if (n < beside)
        return `From ${who}: ${counted(n, 'version')} of records taken in, ${beside - n} were here.`;
      return `From ${who}: ${counted(n, 'version')} of records taken in. They go on to the server from here.`;
    case 'out':
      if (n + beside === 0) return `From ${who}: nothing in it is new here.`;
      return `From ${who}: taken over. It shows in its places now${when ? `, as it was at ${when}` : ''}.`;
    case 'receipt':
      return `The lead has ${counted(n, 'version')} of your records. They stay here too until the server has them.`;
  }
}

/** The first line of the screen. */
export function sayFirst(role: Role | undefined, waiting: number, handed: number): string {
  if (role === 'scout') {
    if (waiting === 0) return 'Nothing waits here. You can still take in what your lead shows.';
    if (handed >= waiting) return 'The lead has all that waits here. It stays until the server has it too.';
    return `${counted(waiting - handed, 'record')} ${waiting - handed === 1 ? 'waits' : 'wait'} here: show ${waiting - handed === 1 ? 'it' : 'them'} to your lead’s camera.`;
  }
  return 'Records come home, and plans go out, by codes on the screen or by a file.';
}

/** “2, 5 and 7”, the first few of many. */
export function sayMissing(numbers: number[]): string {
  const most = 12;
  if (numbers.length > most) return `${numbers.slice(0, most).join(', ')} and ${numbers.length - most} more`;
  const last = numbers.at(-1);
  return numbers.length > 1 ? `${numbers.slice(0, -1).join(', ')} and ${last}` : String(last ?? '');
}

/** Numbers of codes as somebody typed them: those that exist, each once. */
export function readNumbers(text: string, total: number): number[] {
  const found = (text.match(/\d+/g) ?? []).map(Number).filter((n) => n >= 1 && n <= total);
  return [...new Set(found)].sort((a, b) => a - b);
}

export const partNames: Record<Part, { name: string; hint: string }> = {
  schedule: { name: 'Schedule and rota', hint: 'matches, robots, the game, who watches what' },
  questions: { name: 'Questions', hint: 'what watchers are asked' },
  lists: { name: 'Lists', hint: 'pick lists, notes, marks, moves of the selection' },
  briefs: { name: 'Briefs', hint: 'estimates, forecasts, what was agreed and drawn' }
};

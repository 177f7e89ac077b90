// What was done beside what was promised, and the words of a debrief.

import type { Colour, Match, Observation } from '$lib/api';
import { counted } from '$lib/figures';
import { nameOf, sentence, type Game } from '$lib/game/types';

export const keptNames = [
  { id: 'kept', name: 'Kept' },
  { id: 'partly', name: 'Partly' },
  { id: 'not_kept', name: 'Not kept' }
] as const;
export const againNames = [
  { id: 'yes', name: 'Yes' },
  { id: 'unsure', name: 'Unsure' },
  { id: 'no', name: 'No' }
] as const;

export const nameIn = (names: readonly { id: string; name: string }[], id: string | undefined): string =>
  names.find((n) => n.id === id)?.name ?? '';

const roles = ['start_position', 'defending_seconds', 'feeding_seconds', 'stopped_seconds'];

/**
 * What a scout saw a robot do: "ana saw: started left, 5 Barrel on deck, 30 s
 * defending". What was not watched is left out.
 */
export function doneWords(game: Game | undefined, o: Observation): string {
  const said: string[] = [];
  for (const role of roles) {
    const q = game?.questions?.find((a) => a.role === role);
    const answer = q && o.answers?.[q.id];
    if (answer === undefined || answer === null || answer === 0 || answer === '') continue;
    const text = String(answer);
    if (role === 'start_position') said.push(`started ${sentence(text).toLowerCase()}`);
    else said.push(`${text} s ${role.replace('_seconds', '')}`);
  }
  for (const a of game?.actions ?? []) {
    const made = o.counts?.[a.id]?.made;
    const option = a.options?.find((p) => p.id === o.choices?.[a.id]?.option);
    if (a.kind !== 'flag' && made) said.push(`${made} ${nameOf(a)}`);
    else if (a.kind === 'flag' && made) said.push(nameOf(a));
    else if (option && (option.points ?? 0) > 0) said.push(nameOf(option));
  }
  if (o.absent) return `${o.scout} saw: did not show`;
  return `${o.scout} saw: ${said.join(', ') || 'nothing counted'}`;
}

/** "We won, 147 to 122."; '' if it was not played. */
export function resultLine(m: Match | undefined, side: Colour): string {
  const us = m?.[side].result?.score;
  const them = m?.[side === 'red' ? 'blue' : 'red'].result?.score;
  if (us === undefined || them === undefined) return '';
  return `${us > them ? 'We won' : us < them ? 'We lost' : 'A tie'}, ${us} to ${them}.`;
}

/** "2 agreed, 1 kept"; '' if nothing was. */
export function agreedShort(all: readonly { kept?: string | undefined }[]): string {
  if (all.length === 0) return '';
  const told = all.filter((a) => a.kept);
  const kept = told.filter((a) => a.kept === 'kept').length;
  return told.length === 0 ? counted(all.length, 'agreed', 'agreed') : `${all.length} agreed, ${kept} kept`;
}

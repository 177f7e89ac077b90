// From what somebody types to a team and an answer. Pure.

import type { Answer } from './replay';

/**
 * The team that is meant: its whole number, or its last digits if no other team
 * that may be invited ends so ("15" for 40115).
 */
export function meant(
  text: string,
  teams: readonly string[],
  invitable: readonly string[]
): string | undefined {
  const typed = text.trim().toUpperCase();
  if (!typed) return undefined;
  if (teams.includes(typed)) return typed;
  const ends = invitable.filter((t) => t.endsWith(typed));
  return ends.length === 1 ? ends[0] : undefined;
}

/**
 * What a key does while a team is typed. A letter that makes a team's number
 * longer ("905" and "B") belongs to the number.
 */
export function keyMeans(
  key: string,
  text: string,
  teams: readonly string[]
): Answer | 'hold' | 'undo' | 'clock' | undefined {
  const upper = key.toUpperCase();
  if (text.trim() && upper.length === 1 && teams.includes(text.trim().toUpperCase() + upper))
    return undefined;
  if (key === 'Enter') return text.trim() ? 'accepts' : undefined;
  if (upper === 'D') return 'declines';
  if (upper === 'N') return 'no_show';
  if (upper === 'H') return 'hold';
  if (upper === 'Z') return 'undo';
  if (upper === 'T') return 'clock';
  return undefined;
}

/** A ranking pasted from anywhere: the known teams in the order in which they stand, each once. */
export function readRanking(
  text: string,
  teams: readonly string[]
): { ranking: string[]; missing: string[] } {
  const known = new Set(teams);
  const ranking: string[] = [];
  for (const line of text.split('\n')) {
    const team = line
      .toUpperCase()
      .split(/[^0-9A-Z.]+/)
      .find((word) => known.has(word) && !ranking.includes(word));
    if (team) ranking.push(team);
  }
  return { ranking, missing: teams.filter((t) => !ranking.includes(t)) };
}

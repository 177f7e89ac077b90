// What every screen knows of pick lists: their order, how far the numbers allow
// it, and a copy of one.

import type { EntryBody, Estimates, TeamEstimate } from '$lib/api';
import { compareTeams, normalCdf } from '$lib/figures';
import { entryId, type Change } from '$lib/offline';

interface EntryLike {
  list: string;
  team?: string;
  key?: string;
  tier?: number;
  never?: boolean;
  removed?: boolean;
  reason?: string;
  note?: string;
}

/** The entries of a list in the order in which they are called: by tier, then by key; never-picks last. */
export function inListOrder<E extends EntryLike>(list: string, entries: readonly E[]): E[] {
  const tier = (e: E) => (e.never ? 1e6 : (e.tier ?? 1e5));
  return entries
    .filter((e) => e.list === list && e.team && e.key && !e.removed)
    .sort(
      (a, b) =>
        tier(a) - tier(b) || (a.key! < b.key! ? -1 : a.key! > b.key! ? 1 : compareTeams(a.team!, b.team!))
    );
}

export interface Listed {
  team: string;
  /** Place on the list, from 1. */
  place: number;
}

export interface Against extends Listed {
  /** Places that the numbers allow, nine times in ten, and the middle of them. */
  from: number;
  to: number;
  by: number;
}

/** How what is not known of two robots goes together: a covariance, in points². */
export type Together = (a: string, b: string) => number;

/** That of the server's estimates; nothing of robots that are not among them. */
export function togetherOf(estimates: Pick<Estimates, 'teams' | 'together'> | undefined): Together {
  const row = new Map(estimates?.teams.map((e, i) => [e.team, i]));
  return (a, b) => {
    const [i, j] = [row.get(a) ?? -1, row.get(b) ?? -1];
    // What a device kept from an older server has none.
    return estimates?.together?.[Math.max(i, j)]?.[Math.min(i, j)] ?? 0;
  };
}

/** The chance that the second adds more than the first. */
export function better(first: TeamEstimate, second: TeamEstimate, together: Together): number {
  const variance = first.now_sd ** 2 + second.now_sd ** 2 - 2 * together(first.team, second.team);
  const sd = Math.sqrt(Math.max(0, variance));
  if (sd === 0) return first.now === second.now ? 0.5 : second.now > first.now ? 1 : 0;
  return normalCdf((second.now - first.now) / sd);
}

/**
 * Robots whose place on the list is not among the places that the numbers allow.
 * The place by the numbers is one more than how many others are better: a sum of
 * chances, taken as normal, 90 %.
 */
export function againstNumbers(
  list: readonly string[],
  estimates: ReadonlyMap<string, TeamEstimate>,
  together: Together
): Against[] {
  const known = list.flatMap((team, i) => {
    const e = estimates.get(team);
    return e ? [{ team, place: i + 1, e }] : [];
  });
  return known
    .flatMap(({ team, place, e }) => {
      let mean = 1;
      let variance = 0;
      for (const other of known) {
        if (other.team === team) continue;
        const p = better(e, other.e, together);
        mean += p;
        variance += p * (1 - p);
      }
      const half = 1.6449 * Math.sqrt(variance);
      const from = Math.max(1, Math.round(mean - half));
      const to = Math.min(known.length, Math.round(mean + half));
      return place < from || place > to ? [{ team, place, from, to, by: Math.round(mean) }] : [];
    })
    .sort((a, b) => Math.abs(b.place - b.by) - Math.abs(a.place - a.by) || a.place - b.place);
}

/** The name of a dated copy: no two of one minute. */
export const copyName = (name: string, when: string): string => `${name}, as of ${when}`.slice(0, 120);

/** A list with entries as they stand now, as changes; `body` is the new list's. */
export function copyOf(
  entries: readonly EntryBody[],
  id: string,
  body: { name: string; purpose?: string; frozen?: string }
): Change[] {
  return [
    { kind: 'list', recordId: id, body },
    ...entries.map(({ team, key, tier, never, reason, note }): Change => {
      const set = {
        list: id,
        team,
        key,
        ...(tier !== undefined ? { tier } : {}),
        ...(never ? { never } : {}),
        ...(reason ? { reason } : {}),
        ...(note ? { note } : {})
      };
      return { kind: 'entry', recordId: entryId(id, team), body: set };
    })
  ];
}

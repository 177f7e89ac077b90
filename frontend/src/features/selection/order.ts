// Who is left in our order, and what speaks against calling somebody. Pure.

import type { Advice, EntryBody, ListBody, Pin } from '$lib/api';
import { compareTeams } from '$lib/figures';
import { inListOrder } from '$lib/state/lists';

interface Held<B> {
  record_id: string;
  body: B;
}

export interface List {
  id: string;
  name: string;
  /** In the order of the list; never-pick is left out. */
  teams: string[];
  /** A dated copy, on which nobody works. */
  frozen: boolean;
}

/** The lists that are there, each in its order: by tier, then by key. */
export function listsOf(lists: readonly Held<ListBody>[], entries: readonly Held<EntryBody>[]): List[] {
  return lists
    .filter((l) => !l.body.removed)
    .map((l) => ({
      id: l.record_id,
      name: l.body.name || 'A list without a name',
      frozen: l.body.frozen !== undefined,
      teams: inListOrder(
        l.record_id,
        entries.map((e) => e.body)
      )
        .filter((e) => !e.never)
        .map((e) => e.team)
    }))
    .sort((a, b) => (a.name < b.name ? -1 : a.name > b.name ? 1 : 0));
}

/** Whom a list says never to pick, with the reason and the list. A dated copy is a memory and says nothing. */
export function neverOf(
  lists: readonly List[],
  entries: readonly Held<EntryBody>[]
): Map<string, { reason: string; list: string }> {
  const names = new Map(lists.filter((l) => !l.frozen).map((l) => [l.id, l.name]));
  return new Map(
    entries
      .map((e) => e.body)
      .filter((e) => e.never && !e.removed && e.team && names.has(e.list))
      .map((e) => [e.team, { reason: e.reason ?? '', list: names.get(e.list) ?? '' }])
  );
}

/**
 * Candidates for the card, the call first. On our turn that is the highest
 * worth. Before it, somebody who will hardly be there is no call: then the one
 * that is the best in most worlds comes first.
 */
export function shortList(advice: Advice): Advice['candidates'] {
  if (advice.our_turn) return advice.candidates;
  return [...advice.candidates].sort((a, b) => b.best_in - a.best_in);
}

export type OrderBy = 'worth' | 'next' | (string & {});

/**
 * Those who are left in our order: first those that the chosen order knows, as
 * it has them, then the others by what to expect of their next match.
 */
export function inOurOrder(
  left: readonly string[],
  by: OrderBy,
  from: { lists: readonly List[]; advice?: Advice; now: (team: string) => number | undefined }
): string[] {
  const known =
    by === 'worth'
      ? (from.advice?.candidates.map((c) => c.team) ?? [])
      : (from.lists.find((l) => l.id === by)?.teams ?? []);
  const at = new Map(known.map((t, i) => [t, i]));
  return [...left].sort(
    (a, b) =>
      (at.get(a) ?? 1e6) - (at.get(b) ?? 1e6) ||
      (from.now(b) ?? -1e9) - (from.now(a) ?? -1e9) ||
      compareTeams(a, b)
  );
}

interface Against {
  never: ReadonlyMap<string, { reason: string; list: string }>;
  stopped: ReadonlyMap<string, string>;
  pins: readonly Pin[];
}

/** What one should know before one calls a team, in words. */
export function warningsFor(team: string, our: string | undefined, from: Against): string[] {
  const out: string[] = [];
  const never = from.never.get(team);
  if (never)
    out.push(`${team} is never to be picked${never.reason ? `: ${never.reason}` : ''} (${never.list})`);
  const stopped = from.stopped.get(team);
  if (stopped) out.push(`${team} ${stopped}`);
  for (const pin of from.pins)
    if (pin.team === team && pin.kind === 'agreed' && pin.captain !== our)
      out.push(`${team} has agreed with ${pin.captain}`);
    else if (pin.team === team && pin.kind === 'refused' && pin.captain === our)
      out.push(`${team} would refuse us`);
  return out;
}

/** The weightiest of it in one word, for the small print under a number; empty: nothing. */
export function markFor(team: string, our: string | undefined, from: Against): string {
  if (from.never.has(team)) return 'never';
  if (from.stopped.has(team)) return 'stopped';
  const pinned = (kind: string, us: boolean) =>
    from.pins.some((p) => p.team === team && p.kind === kind && (p.captain === our) === us);
  if (pinned('refused', true)) return 'refuses';
  return pinned('agreed', false) ? 'agreed' : '';
}

// The order of a pick list. Each entry is a record with a fractional index
// (`key`), a tier and "never"; a move changes only the entry that is moved, so
// that two people can move different entries at once. Everything here is pure:
// it takes the entries as they are and gives back what to change.

import type { EntryBody } from '$lib/api';
import { compareTeams } from '$lib/figures';
import { generateKeyBetween, generateNKeysBetween } from 'fractional-indexing';

export interface Entry {
  team: string;
  key: string;
  tier?: number;
  never: boolean;
  reason: string;
  note: string;
  /** Two people set the same thing differently without having seen each other's. */
  conflict: boolean;
}

/** Where an entry stands: a tier, no tier yet, or never to be picked. */
export type SectionId = number | 'none' | 'never';

export interface Section {
  id: SectionId;
  entries: Entry[];
}

/** What to change of one entry; null takes a member away. */
export interface Change {
  team: string;
  set: { [M in keyof EntryBody]?: EntryBody[M] | null };
}

export const highestTier = 9;

export function sectionOf(e: Entry): SectionId {
  return e.never ? 'never' : (e.tier ?? 'none');
}

function compareEntries(a: Entry, b: Entry): number {
  return a.key < b.key ? -1 : a.key > b.key ? 1 : compareTeams(a.team, b.team);
}

const rankOf = (id: SectionId) => (id === 'never' ? 1e6 : id === 'none' ? 1e5 : id);

/** Entries by section, tiers first, then those without one, then never. Empty sections are left out. */
export function sectionsOf(entries: readonly Entry[]): Section[] {
  const sections = new Map<SectionId, Entry[]>();
  for (const e of entries) {
    const id = sectionOf(e);
    const list = sections.get(id);
    if (list) list.push(e);
    else sections.set(id, [e]);
  }
  return [...sections.entries()]
    .sort((a, b) => rankOf(a[0]) - rankOf(b[0]))
    .map(([id, list]) => ({ id, entries: list.sort(compareEntries) }));
}

/** All entries in the order in which they are called, never-picks last. */
export function inOrder(entries: readonly Entry[]): Entry[] {
  return sectionsOf(entries).flatMap((s) => s.entries);
}

export function sectionName(id: SectionId): string {
  if (id === 'never') return 'Never pick';
  return id === 'none' ? 'No tier yet' : `Tier ${id}`;
}

/** The first tier that nobody stands in; undefined when all are used. */
export function nextTier(entries: readonly Entry[]): number | undefined {
  const used = entries.filter((e) => !e.never).map((e) => e.tier ?? 0);
  const next = Math.max(0, ...used) + 1;
  return next <= highestTier ? next : undefined;
}

function membership(id: SectionId, e: Entry | undefined): Change['set'] {
  const set: Change['set'] = {};
  if (id === 'never') {
    if (!e?.never) set.never = true;
    return set;
  }
  if (e?.never) set.never = false;
  const tier = id === 'none' ? undefined : id;
  if (e?.tier !== tier) set.tier = tier ?? null;
  return set;
}

/**
 * Puts a team at a place of a section, the moved one itself not counted. Two
 * people who inserted at the same place at once have given out the same key
 * twice; between such neighbours there is no key, so those after the place are
 * given new ones too.
 */
export function place(entries: readonly Entry[], team: string, section: SectionId, index: number): Change[] {
  const moved = entries.find((e) => e.team === team);
  const rest = entries.filter((e) => e.team !== team && sectionOf(e) === section).sort(compareEntries);
  const at = Math.min(Math.max(0, index), rest.length);
  const before = rest[at - 1];
  const after = rest[at];

  const stays =
    moved &&
    sectionOf(moved) === section &&
    (!before || compareEntries(before, moved) < 0) &&
    (!after || compareEntries(moved, after) < 0);
  if (stays) return [];

  const set = membership(section, moved);
  if (!before || !after || before.key < after.key) {
    return [{ team, set: { ...set, key: generateKeyBetween(before?.key ?? null, after?.key ?? null) } }];
  }
  const same = rest.slice(at).filter((e) => e.key === before.key);
  const beyond = rest[at + same.length];
  const keys = generateNKeysBetween(before.key, beyond?.key ?? null, same.length + 1);
  return [
    { team, set: { ...set, key: keys[0] } },
    ...same.map((e, i) => ({ team: e.team, set: { key: keys[i + 1] } }))
  ];
}

/** One place up (−1) or down (+1), over the edge of a tier into the next one; never-picks stay apart. */
export function moveBy(entries: readonly Entry[], team: string, step: -1 | 1): Change[] {
  const moved = entries.find((e) => e.team === team);
  if (!moved) return [];
  const sections = sectionsOf(entries).filter((s) => s.id !== 'never' || moved.never);
  const at = sections.findIndex((s) => s.id === sectionOf(moved));
  const section = sections[at];
  if (!section) return [];
  const index = section.entries.findIndex((e) => e.team === team);
  const wanted = index + step;
  if (wanted >= 0 && wanted < section.entries.length) return place(entries, team, section.id, wanted);
  const neighbour = sections[at + step];
  if (!neighbour || neighbour.id === 'never' || moved.never) return [];
  return place(entries, team, neighbour.id, step < 0 ? neighbour.entries.length : 0);
}

/** To the first place of the list. */
export function toTop(entries: readonly Entry[], team: string): Change[] {
  const first = sectionsOf(entries.filter((e) => e.team !== team && !e.never))[0];
  return place(entries, team, first?.id ?? 'none', 0);
}

/** To a place of the whole list, from 1, into the tier of whoever stands there; a never-pick has no place. */
export function toRank(entries: readonly Entry[], team: string, rank: number): Change[] {
  const others = sectionsOf(entries.filter((e) => e.team !== team && !e.never));
  let before = 0;
  for (const s of others) {
    if (rank <= before + s.entries.length) return place(entries, team, s.id, Math.max(0, rank - 1 - before));
    before += s.entries.length;
  }
  const last = others.at(-1);
  return place(entries, team, last?.id ?? 'none', Number.POSITIVE_INFINITY);
}

/** To the end of a section, or to the end of the list's last tier for 'none'. */
export function toSection(entries: readonly Entry[], team: string, section: SectionId): Change[] {
  return place(entries, team, section, Number.POSITIVE_INFINITY);
}

/** Adds teams that are not on the list at its end, in the order given. */
export function append(entries: readonly Entry[], list: string, teams: readonly string[]): Change[] {
  const on = new Set(entries.map((e) => e.team));
  const missing = teams.filter((t) => !on.has(t));
  if (missing.length === 0) return [];
  // At the end of the last section; a list that has tiers gets them below all tiers.
  const end = entries
    .filter((e) => sectionOf(e) === 'none')
    .reduce<string | null>((high, e) => (high === null || e.key > high ? e.key : high), null);
  const keys = generateNKeysBetween(end, null, missing.length);
  // Members that an entry may still have from an earlier time on the list are taken away.
  return missing.map((team, i) => ({
    team,
    set: { list, team, key: keys[i], tier: null, never: false, removed: false }
  }));
}

type Figure = (team: string) => number | undefined;

/** A section by a figure, the highest first; entries without it keep their order at the end. */
function sortedBy(section: Section, figure: Figure): { team: string; i: number }[] {
  return section.entries
    .map(({ team }, i) => ({ team, i, value: figure(team) ?? Number.NEGATIVE_INFINITY }))
    .sort((a, b) => (a.value === b.value ? a.i - b.i : b.value - a.value));
}

/** Orders every section but the never-picks by a figure. */
export function orderBy(entries: readonly Entry[], figure: Figure): Change[] {
  const changes: Change[] = [];
  for (const section of sectionsOf(entries)) {
    if (section.id === 'never') continue;
    const sorted = sortedBy(section, figure);
    if (sorted.every((s, i) => s.i === i)) continue;
    const keys = generateNKeysBetween(null, null, sorted.length);
    sorted.forEach((s, i) => changes.push({ team: s.team, set: { key: keys[i] } }));
  }
  return changes;
}

/** What `orderBy` would do: where each robot would stand and stands, from 1, in the new order. */
export function reordered(
  entries: readonly Entry[],
  figure: Figure
): { team: string; from: number; to: number }[] {
  const out: { team: string; from: number; to: number }[] = [];
  for (const section of sectionsOf(entries)) {
    if (section.id === 'never') continue;
    const before = out.length;
    sortedBy(section, figure).forEach((s, i) =>
      out.push({ team: s.team, from: before + s.i + 1, to: before + i + 1 })
    );
  }
  return out;
}

/** What takes a change back, seen from the entries before it. */
export function inverse(before: readonly Entry[], changes: readonly Change[]): Change[] {
  return changes.map(({ team, set }) => {
    const old = before.find((e) => e.team === team);
    if (!old) return { team, set: { removed: true } };
    const back: Change['set'] = {};
    if ('key' in set) back.key = old.key;
    if ('tier' in set) back.tier = old.tier ?? null;
    if ('never' in set) back.never = old.never;
    if ('reason' in set) back.reason = old.reason;
    if ('note' in set) back.note = old.note;
    if ('removed' in set) back.removed = false;
    return { team, set: back };
  });
}

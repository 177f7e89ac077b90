// Which columns somebody chose on this device and in which order, and the
// choices that were given a name; by game.

import type { Game } from '$lib/game/types';

export interface Kept {
  /** Ids in order; undefined: nobody chose, the table decides. */
  chosen?: string[];
  named: { name: string; columns: string[] }[];
}

const key = (game: Game) => `sextant-columns-${game.id}`;

const texts = (v: unknown): string[] | undefined =>
  Array.isArray(v) ? v.filter((id) => typeof id === 'string') : undefined;

/** Reads what was kept; a list alone is the form of earlier versions. */
export function parseKept(text: string | null): Kept {
  try {
    const kept: unknown = JSON.parse(text ?? 'null');
    if (Array.isArray(kept)) return { chosen: texts(kept), named: [] };
    const { chosen, named } = (kept ?? {}) as { chosen?: unknown; named?: unknown };
    return {
      chosen: texts(chosen),
      named: (Array.isArray(named) ? named : []).flatMap(
        (n: { name?: unknown; columns?: unknown } | null) => {
          const columns = texts(n?.columns);
          return typeof n?.name === 'string' && columns ? [{ name: n.name, columns }] : [];
        }
      )
    };
  } catch {
    return { named: [] }; // something else is kept there
  }
}

export function readKept(game: Game): Kept {
  try {
    return parseKept(localStorage.getItem(key(game)));
  } catch {
    return { named: [] }; // storage is switched off
  }
}

export function writeKept(game: Game, kept: Kept): void {
  try {
    localStorage.setItem(key(game), JSON.stringify(kept));
  } catch {
    // Private mode: the choice holds until the page is closed.
  }
}

/** Moves one up (−1) or down (+1); at an end nothing moves. */
export function moved(ids: readonly string[], id: string, by: -1 | 1): string[] {
  const out = [...ids];
  const at = out.indexOf(id);
  const to = at + by;
  if (at < 0 || to < 0 || to >= out.length) return out;
  [out[at], out[to]] = [out[to]!, out[at]!];
  return out;
}

/** Keeps the columns under a name; the same name again replaces. */
export function withName(kept: Kept, name: string, columns: readonly string[]): Kept {
  const rest = kept.named.filter((n) => n.name !== name);
  return { ...kept, named: [...rest, { name, columns: [...columns] }] };
}

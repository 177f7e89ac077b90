// Which columns somebody chose on this device, by game.

import type { Game } from '$lib/game/types';

const key = (game: Game) => `sextant-columns-${game.id}`;

/** Undefined: nobody chose, the table decides. */
export function readChosen(game: Game): ReadonlySet<string> | undefined {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(key(game)) ?? 'null');
    return Array.isArray(kept) ? new Set(kept.filter((id) => typeof id === 'string')) : undefined;
  } catch {
    return undefined; // storage is switched off, or holds something else
  }
}

export function keepChosen(game: Game, ids: ReadonlySet<string>): void {
  try {
    localStorage.setItem(key(game), JSON.stringify([...ids]));
  } catch {
    // Private mode: the choice holds until the page is closed.
  }
}

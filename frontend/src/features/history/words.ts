// Ids of this event in words, for showing versions of its records.

import type { EventState } from '$lib/state/event.svelte';
import type { Words } from './fields';

export function wordsOf(event: EventState): Words {
  return {
    game: event.game,
    listName: (list) => event.record('list', list)?.body.name,
    placeOf: (list, team, key) => {
      const before = event
        .bodies('entry')
        .filter((e) => e.list === list && e.team !== team && !e.removed && !e.never && e.key && e.key < key)
        .sort((a, b) => (a.key < b.key ? 1 : -1))[0];
      return before ? `behind ${before.team}` : 'first';
    }
  };
}

/** Whether the record belongs to whoever uses this device. */
export const isOwn = (event: EventState, body: Record<string, unknown>): boolean =>
  body.scout === event.summary?.nickname;

/** Our next briefs are fetched before anybody opens them: in the queue there is no network. */
import { analysis, NoAnswer, type Brief } from '$lib/api';
import { database, refresh } from '$lib/offline';
import type { EventState } from './event.svelte';
import { follow } from './follow';
import { isPlayed, lastPlays, sideOf } from './matches';

/** So many of our matches ahead. */
const AHEAD = 3;
/** What somebody looks at now goes first. */
const PATIENCE_MS = 3_000;

/** Our next matches of which a brief can be made. */
export function toPrepare(event: Pick<EventState, 'matches' | 'ourTeam'>): string[] {
  const plays = lastPlays(event.matches);
  return plays
    .slice(plays.findLastIndex(isPlayed) + 1)
    .filter(
      (m) => !isPlayed(m) && sideOf(m, event.ourTeam) && m.red.teams.length > 0 && m.blue.teams.length > 0
    )
    .slice(0, AHEAD)
    .map((m) => m.match);
}

/** Keeps them in step with the data; returns the way to stop. */
export function keepBriefs(event: EventState): () => void {
  return follow(
    event.id,
    async (since) => {
      const db = await database();
      let current = true;
      for (const match of toPrepare(event)) {
        const name = `brief/${match}` as const;
        try {
          const brief = (e: string, etag?: string) => analysis.brief(e, match, {}, etag);
          const { bundle } = await refresh(db, event.id, name, brief, since);
          current &&= (bundle?.value as Brief | undefined)?.current !== false;
        } catch (error) {
          if (error instanceof NoAnswer) return false;
          // Nothing is known yet, say: the brief's own screen tells.
        }
      }
      return current;
    },
    { patience: PATIENCE_MS }
  );
}

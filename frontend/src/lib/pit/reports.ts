import type { EventState } from '$lib/state/event.svelte';
import type { Report } from './pit';

/** All pit reports of an event with when they were made. */
export const reportsOf = (event: EventState): Report[] =>
  event.records('pit').map((r) => ({
    id: r.record_id,
    body: r.body,
    at: r.revisions.find((v) => v.revision_id === r.head)?.made_at ?? ''
  }));

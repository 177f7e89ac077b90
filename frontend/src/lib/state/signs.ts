import type { Sign } from './delay';
import type { EventState } from './event.svelte';

/** What this device knows of when matches began: first taps of records, and results as they were entered. */
export function signsOf(event: EventState): Sign[] {
  const out: Sign[] = [];
  for (const r of event.records('observation')) {
    // The first version is saved right after the match; its last tap is not far from that.
    const first = r.revisions.find((v) => v.parents.length === 0);
    const taps = (first?.body.taps ?? []) as [number, ...unknown[]][];
    const last = taps.at(-1);
    if (!first || !last || r.body.discarded) continue;
    out.push({
      match: r.body.match,
      play: r.body.play || 1,
      at: new Date(first.made_at).getTime() - last[0],
      by: 'tap'
    });
  }
  for (const r of event.records('result')) {
    const first = r.revisions.find((v) => v.parents.length === 0);
    if (!first || r.body.discarded) continue;
    out.push({
      match: r.body.match,
      play: r.body.play || 1,
      at: new Date(first.made_at).getTime(),
      by: 'result'
    });
  }
  return out;
}

/** What a tap costs until it is painted, by the browser's own trace. */
import type { CDPSession } from '@playwright/test';

interface TraceEvent {
  name: string;
  pid: number;
  tid: number;
  /** Microseconds: when it began, how long it took, and how long the thread really worked on it. */
  ts: number;
  dur?: number;
  tdur?: number;
  args?: { data?: { type?: string } };
}

/** Milliseconds that the page's thread worked for one tap. */
export interface Painted {
  handlers: number;
  style: number;
  layout: number;
  paint: number;
}

/** Starts a trace; the answer ends it and gives its events. */
export async function tracing(devtools: CDPSession): Promise<() => Promise<TraceEvent[]>> {
  const events: TraceEvent[] = [];
  devtools.on('Tracing.dataCollected', ({ value }) => events.push(...(value as unknown as TraceEvent[])));
  await devtools.send('Tracing.start', {
    transferMode: 'ReportEvents',
    traceConfig: { includedCategories: ['devtools.timeline'] }
  });
  return async () => {
    const complete = new Promise((done) => devtools.once('Tracing.tracingComplete', done));
    await devtools.send('Tracing.end');
    await complete;
    return events;
  };
}

/** Other programs on the machine do not count: what the thread worked, not what the wall clock says. */
const worked = (e: TraceEvent): number => (e.tdur ?? e.dur ?? 0) / 1000;

/** Each click: its handlers, and the first frame that is made after it. */
export function paintsOf(events: TraceEvent[]): Painted[] {
  const sorted = events.toSorted((a, b) => a.ts - b.ts);
  return sorted
    .filter((e) => e.name === 'EventDispatch' && e.args?.data?.type === 'click')
    .map((click) => {
      const end = click.ts + (click.dur ?? 0);
      const after = sorted.filter((e) => e.pid === click.pid && e.tid === click.tid && e.ts >= end);
      const painted = after.findIndex((e) => e.name === 'Paint');
      // The parts of a frame follow each other; another Paint belongs to the same one until the commit.
      const commit = after.findIndex((e, i) => i > painted && e.name === 'Commit');
      const frame = after.slice(0, (commit < 0 ? painted : commit) + 1);
      const sum = (...names: string[]) =>
        frame.reduce((ms, e) => (names.includes(e.name) ? ms + worked(e) : ms), 0);
      return {
        handlers: worked(click),
        style: sum('UpdateLayoutTree'),
        layout: sum('Layout'),
        paint: sum('PrePaint', 'Paint', 'Layerize', 'Commit')
      };
    });
}

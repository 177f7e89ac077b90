/**
 * What a tap costs until it is painted, by the browser's own trace.
 *
 * Counted is what the page's main thread really worked (`tdur`), so that other programs on the machine do
 * not count, in two ways. `tap` is the page's share: what handles the click, and style, layout, paint and
 * handing over of the frame that shows it. `all` begins when the finger leaves the glass and takes every
 * task until that frame is handed over, whatever it was about: finding what was hit (several times), the
 * other events of a touch, drawing the card pressed. Neither counts what follows without the page: waiting
 * for the screen, and drawing, which without a graphics card is slow. `shown` is the clock on the wall
 * with all of that, as the browser tells it of each click.
 */
import type { CDPSession } from '@playwright/test';

interface TraceEvent {
  name: string;
  ph: string;
  pid: number;
  tid: number;
  /** Microseconds: when it began, how long it took, and how long the thread really worked on it. */
  ts: number;
  dur?: number;
  tdur?: number;
  args?: {
    data?: { type?: string; duration?: number };
    elementCount?: number;
    beginData?: { totalObjects?: number };
  };
}

/** Milliseconds that the page's thread worked for one tap. */
export interface Painted {
  /** The page's share, and its parts. */
  tap: number;
  handlers: number;
  style: number;
  layout: number;
  paint: number;
  /** Handing the frame over. */
  commit: number;
  /** Everything from the end of the touch until that frame is handed over. */
  all: number;
  /** From then on: what the page does in later frames, until the finger comes down again. */
  later: number;
  /** By the clock on the wall, from the end of the touch until the frame was on the screen. */
  shown: number;
  /** How many elements were styled anew, and how many objects were in what was laid out. */
  styled: number;
  laidOut: number;
}

/** Starts a trace; the answer ends it and gives its events. */
export async function tracing(devtools: CDPSession): Promise<() => Promise<TraceEvent[]>> {
  const events: TraceEvent[] = [];
  devtools.on('Tracing.dataCollected', ({ value }) => events.push(...(value as unknown as TraceEvent[])));
  await devtools.send('Tracing.start', {
    transferMode: 'ReportEvents',
    traceConfig: { includedCategories: ['devtools.timeline', 'disabled-by-default-devtools.timeline'] }
  });
  return async () => {
    const complete = new Promise((done) => devtools.once('Tracing.tracingComplete', done));
    await devtools.send('Tracing.end');
    await complete;
    return events;
  };
}

const end = (e: TraceEvent): number => e.ts + (e.dur ?? 0);

/** What was worked on events of these names; one within another counts once. */
function worked(events: TraceEvent[], ...names: string[]): number {
  let sum = 0;
  let until = 0;
  for (const e of events) {
    if (!names.includes(e.name) || e.ts < until) continue;
    sum += e.tdur ?? e.dur ?? 0;
    until = end(e);
  }
  return sum / 1000;
}

/** Each tap of a trace, in order. */
export function paintsOf(events: TraceEvent[]): Painted[] {
  const sorted = events.toSorted((a, b) => a.ts - b.ts);
  const dispatched = (type: string) =>
    sorted.filter((e) => e.name === 'EventDispatch' && e.args?.data?.type === type);
  const starts = dispatched('pointerdown');
  const releases = dispatched('pointerup');
  const said = sorted.filter((e) => e.name === 'EventTiming' && e.args?.data?.type === 'click');
  return dispatched('click').map((click, i) => {
    const release = releases.findLast((e) => e.ts <= click.ts) ?? click;
    const next = starts.find((e) => e.ts > click.ts)?.ts ?? Infinity;
    const thread = sorted.filter((e) => e.ph === 'X' && e.pid === click.pid && e.tid === click.tid);
    const within = thread.filter((e) => end(e) >= release.ts && e.ts < next);
    // The parts of a frame follow each other; another Paint belongs to the same one until the commit.
    const painted = within.findIndex((e) => e.name === 'Paint' && e.ts >= end(click));
    const commit = within.find((e, n) => n > painted && e.name === 'Commit');
    const until = commit ? end(commit) : Infinity;
    const frame = within.filter((e) => e.ts < until);
    const after = frame.filter((e) => e.ts >= end(click));
    const parts = {
      handlers: worked([click], 'EventDispatch'),
      style: worked(after, 'UpdateLayoutTree'),
      layout: worked(after, 'Layout'),
      paint: worked(after, 'PrePaint', 'Paint', 'Layerize'),
      commit: worked(after, 'Commit')
    };
    return {
      ...parts,
      tap: Object.values(parts).reduce((sum, ms) => sum + ms),
      all: worked(frame, 'RunTask'),
      later: worked(
        within.filter((e) => e.ts >= until),
        ...[
          'TimerFire',
          'RunPostTaskCallback',
          'UpdateLayoutTree',
          'Layout',
          'PrePaint',
          'Paint',
          'Layerize',
          'Commit'
        ]
      ),
      shown: said[i]?.args?.data?.duration ?? NaN,
      styled: after.reduce((n, e) => n + (e.args?.elementCount ?? 0), 0),
      laidOut: after.reduce((n, e) => n + (e.args?.beginData?.totalObjects ?? 0), 0)
    };
  });
}

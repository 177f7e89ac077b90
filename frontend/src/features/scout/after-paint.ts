/** Writing may wait so long for the screen. */
const AT_MOST_MS = 500;

interface Scheduler {
  postTask(task: () => void, options: { priority: 'background'; signal: AbortSignal }): Promise<unknown>;
}

/**
 * Runs something when the next frame has been drawn, after half a second at the latest
 * (a page that nobody sees draws none); returns the way to call it off.
 */
export function afterFrame(run: () => void): () => void {
  let next: ReturnType<typeof setTimeout>;
  const off = () => {
    clearTimeout(timer);
    clearTimeout(next);
    cancelAnimationFrame(frame);
  };
  const once = () => {
    off();
    run();
  };
  const timer = setTimeout(once, AT_MOST_MS);
  // Asked before the frame is drawn: what is put off from there comes after it.
  const frame = requestAnimationFrame(() => (next = setTimeout(once)));
  return off;
}

/**
 * Runs something once the browser has painted and has nothing more urgent to do,
 * after half a second at the latest; returns the way to call it off.
 */
export function afterPaint(run: () => void): () => void {
  const off = new AbortController();
  const timer = setTimeout(once, AT_MOST_MS);
  function once() {
    clearTimeout(timer);
    if (off.signal.aborted) return;
    off.abort();
    run();
  }
  const { scheduler } = globalThis as { scheduler?: Scheduler };
  if (scheduler)
    scheduler.postTask(once, { priority: 'background', signal: off.signal }).catch(() => undefined);
  else setTimeout(once);
  return () => {
    clearTimeout(timer);
    off.abort();
  };
}

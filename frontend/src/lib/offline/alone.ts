/** Runs alone in this browser where Web Locks exist (a secure context); what is done twice must do no harm. */
export async function exclusively<T>(name: string, work: () => Promise<T>): Promise<T> {
  if (typeof navigator === 'undefined' || !navigator.locks) return work();
  // The types of the browser say that what a lock gives back may be a promise of a promise.
  return (await navigator.locks.request(name, work)) as T;
}

/**
 * Does the work unless another tab is at work of that name: then it waits until that is
 * done, which is undefined here. All who wait go on at once: a tab that is busy drawing
 * holds nobody up.
 */
export async function oneOf<T extends object>(name: string, work: () => Promise<T>): Promise<T | undefined> {
  if (typeof navigator === 'undefined' || !navigator.locks) return work();
  const done = await navigator.locks.request(name, { ifAvailable: true }, (lock) =>
    lock ? work() : undefined
  );
  if (!done) await navigator.locks.request(name, { mode: 'shared' }, () => undefined);
  return done;
}

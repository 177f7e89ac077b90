/** Runs alone in this browser where Web Locks exist (a secure context); what is done twice must do no harm. */
export async function exclusively<T>(name: string, work: () => Promise<T>): Promise<T> {
  if (typeof navigator === 'undefined' || !navigator.locks) return work();
  // The types of the browser say that what a lock gives back may be a promise of a promise.
  return (await navigator.locks.request(name, work)) as T;
}

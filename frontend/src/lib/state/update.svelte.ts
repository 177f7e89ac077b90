/** A new version of the app: it waits until somebody says yes, and never interrupts a form. */
class Update {
  /** A new version is ready. */
  ready = $state(false);
  #waiting: ServiceWorker | undefined;

  /** Registers the worker, where the browser allows one (a secure context). */
  async register(): Promise<void> {
    if (!('serviceWorker' in navigator)) return;
    const registration = await navigator.serviceWorker.register('/service-worker.js').catch(() => undefined);
    if (!registration) return;
    const offer = (worker: ServiceWorker | null) => {
      // Without a controller this is the first install: there is nothing to replace.
      if (!worker || !navigator.serviceWorker.controller) return;
      this.#waiting = worker;
      this.ready = true;
    };
    offer(registration.waiting);
    registration.addEventListener('updatefound', () => {
      const worker = registration.installing;
      worker?.addEventListener('statechange', () => worker.state === 'installed' && offer(worker));
    });
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState === 'visible') registration.update().catch(() => undefined); // no network
    });
  }

  /** Yes: the new version takes over and the page loads again. */
  accept(): void {
    navigator.serviceWorker.addEventListener('controllerchange', () => location.reload(), { once: true });
    this.#waiting?.postMessage('take-over');
  }
}

export const update = new Update();

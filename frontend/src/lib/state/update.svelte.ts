/** How long a new worker may take to replace the old one (ms). */
const HELD_BACK = 4000;

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
    setTimeout(() => void this.#withoutWorker(), HELD_BACK);
  }

  /**
   * A browser may put off the change for minutes while the old worker is busy. Without
   * any worker the page comes from the server, if that answers now, and brings its own.
   */
  async #withoutWorker(): Promise<void> {
    const there = await fetch('/service-worker.js', { cache: 'no-store' }).then(
      (answer) => answer.ok,
      () => false
    );
    if (!there) return; // the next start of the app takes the new version
    await (await navigator.serviceWorker.getRegistration())?.unregister();
    location.reload();
  }
}

export const update = new Update();

/// <reference types="@sveltejs/kit" />
/// <reference lib="webworker" />
// Keeps the app itself on the device: every built file and the one page that
// stands for all paths. Answers of the API are never kept here; the local
// database does that.
import { build, files, version } from '$service-worker';

const worker = self as unknown as ServiceWorkerGlobalScope;
const CACHE = `sextant-${version}`;
const PAGE = '/';
/** The program that tells worths without the server: two megabytes for leads and coaches, kept when one of them asks. */
const WORTH = files.filter((f) => f.startsWith('/wasm/'));
const SHELL = [PAGE, ...build, ...files.filter((f) => !f.endsWith('/.keep') && !WORTH.includes(f))];

/** Chromium's way to keep requests from waking a worker; other browsers do without. */
interface Routed extends ExtendableEvent {
  addRoutes?: (rule: { condition: { urlPattern: string }; source: 'network' }) => Promise<void>;
}

worker.addEventListener('install', (event: Routed) => {
  // An old worker that every request wakes again never ends, and the new one waits for it.
  const routed = event.addRoutes?.({ condition: { urlPattern: '/api/*' }, source: 'network' });
  if (routed) event.waitUntil(routed.catch(() => undefined));
  const install = async () => {
    const had = await Promise.all(WORTH.map((url) => caches.match(url)));
    await keep(SHELL);
    if (had.some(Boolean)) await keep(WORTH).catch(() => undefined); // the board asks again
  };
  event.waitUntil(install());
});

async function keep(urls: string[]): Promise<void> {
  const cache = await caches.open(CACHE);
  // Past the browser's own cache: a page of an older build would ask for files that are gone.
  await cache.addAll(urls.map((url) => new Request(url, { cache: 'reload' })));
}

async function keepWorth(): Promise<void> {
  const cache = await caches.open(CACHE);
  const have = await Promise.all(WORTH.map((url) => cache.match(url)));
  await keep(WORTH.filter((_, i) => !have[i])).catch(() => undefined); // no network: with the next opening
}

worker.addEventListener('activate', (event) => {
  const dropOld = async () => {
    for (const name of await caches.keys()) if (name !== CACHE) await caches.delete(name);
    await worker.clients.claim();
  };
  event.waitUntil(dropOld());
});

worker.addEventListener('message', (event) => {
  if (event.data === 'take-over') void worker.skipWaiting();
  if (event.data === 'keep-worth') event.waitUntil(keepWorth());
});

worker.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== location.origin) return;
  if (url.pathname.startsWith('/api/')) return;
  if (request.mode === 'navigate') {
    event.respondWith(kept(PAGE, request));
  } else if (SHELL.includes(url.pathname) || WORTH.includes(url.pathname)) {
    event.respondWith(kept(url.pathname, request));
  }
});

async function kept(path: string, request: Request): Promise<Response> {
  const cache = await caches.open(CACHE);
  return (await cache.match(path)) ?? fetch(request);
}

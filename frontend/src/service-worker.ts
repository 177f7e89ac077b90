/// <reference types="@sveltejs/kit" />
/// <reference lib="webworker" />
// Keeps the app itself on the device: every built file and the one page that
// stands for all paths. Answers of the API are never kept here; the local
// database does that.
import { build, files, version } from '$service-worker';

const worker = self as unknown as ServiceWorkerGlobalScope;
const CACHE = `sextant-${version}`;
const PAGE = '/';
const SHELL = [PAGE, ...build, ...files.filter((f) => !f.endsWith('/.keep'))];

worker.addEventListener('install', (event) => {
  event.waitUntil(
    // Past the browser's own cache: a page of an older build would ask for files that are gone.
    caches
      .open(CACHE)
      .then((cache) => cache.addAll(SHELL.map((url) => new Request(url, { cache: 'reload' }))))
  );
});

worker.addEventListener('activate', (event) => {
  const dropOld = async () => {
    for (const name of await caches.keys()) if (name !== CACHE) await caches.delete(name);
    await worker.clients.claim();
  };
  event.waitUntil(dropOld());
});

worker.addEventListener('message', (event) => {
  if (event.data === 'take-over') void worker.skipWaiting();
});

worker.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== location.origin) return;
  if (url.pathname.startsWith('/api/')) return;
  if (request.mode === 'navigate') {
    event.respondWith(kept(PAGE, request));
  } else if (SHELL.includes(url.pathname)) {
    event.respondWith(kept(url.pathname, request));
  }
});

async function kept(path: string, request: Request): Promise<Response> {
  const cache = await caches.open(CACHE);
  return (await cache.match(path)) ?? fetch(request);
}

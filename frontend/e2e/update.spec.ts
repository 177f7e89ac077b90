/** A new version of the app waits for a yes, and never interrupts a form. */
import { createServer, request, type Server as Proxy } from 'node:http';
import { once } from 'node:events';
import type { AddressInfo } from 'node:net';
import { expect, joinEvent, makeCode, makeEvent, ready, tablet, test } from './fixtures';

/**
 * Stands before the server and, once told, serves another service worker: a new version.
 * One that is held back never hears that it shall take over.
 */
async function newerBehind(
  url: string,
  held: boolean
): Promise<{ proxy: Proxy; url: string; release: () => void }> {
  const listensNoMore =
    "self.addEventListener('message', (e) => e.stopImmediatePropagation(), { capture: true });\n";
  let [head, tail] = ['', ''];
  const proxy = createServer((req, res) => {
    const asked = { ...req.headers };
    delete asked['accept-encoding']; // only what is not compressed can be added to
    delete asked['if-none-match']; // the tag is that of the old version
    const onward = request(new URL(req.url ?? '/', url), { method: req.method, headers: asked }, (answer) => {
      const headers = { ...answer.headers };
      const worker = req.url === '/service-worker.js' && answer.statusCode === 200;
      if (worker) delete headers['content-length'];
      res.writeHead(answer.statusCode ?? 502, headers);
      if (worker) res.write(head);
      answer.pipe(res, { end: !worker });
      if (worker) answer.on('end', () => res.end(tail));
    });
    onward.on('error', () => res.destroy());
    req.pipe(onward);
  });
  proxy.listen(0, '127.0.0.1');
  await once(proxy, 'listening');
  const { port } = proxy.address() as AddressInfo;
  const release = () => {
    tail = '\n// the next version';
    if (held) head = listensNoMore;
  };
  return { proxy, url: `http://127.0.0.1:${port}`, release };
}

for (const held of [false, true]) {
  const title = held ? 'a new version that the browser holds back' : 'a new version';
  test(title, async ({ lead, device, server }) => {
    const path = await makeEvent(lead, 'New version');
    const code = await makeCode(lead, path);
    const { proxy, url, release } = await newerBehind(server.url, held);
    const scout = await device({ ...tablet, baseURL: url });
    await joinEvent(scout, code, 'gus');
    await ready(scout);
    const offer = scout.getByRole('complementary', { name: 'New version' });
    // What is asked of the server goes past the worker: a woken one holds the next one back.
    const way = await scout.evaluate(async () => {
      await (await fetch('/api/events')).text();
      const asked = performance.getEntriesByType('resource').filter((e) => e.name.endsWith('/api/events'));
      return (asked.at(-1)?.toJSON() as { workerMatchedSourceType?: string }).workerMatchedSourceType;
    });
    expect(way).toBe('network');

    release();
    // While a robot is watched nothing is offered.
    await scout.getByRole('link', { name: /41 / }).first().tap();
    await scout.getByRole('button', { name: 'Sluice opened' }).tap();
    const waiting = () =>
      scout.evaluate(async () => Boolean((await navigator.serviceWorker.getRegistration())?.waiting));
    await scout.evaluate(async () => (await navigator.serviceWorker.getRegistration())?.update());
    await expect.poll(waiting).toBe(true);
    await expect(offer).toHaveCount(0);
    await scout.getByRole('button', { name: 'Save' }).tap();

    await expect(offer).toBeVisible();
    expect(await waiting()).toBe(true);
    // The page goes on talking to the server: that must not keep the old worker.
    await scout.evaluate(() => void setInterval(() => void fetch('/api/events'), 20));
    const loaded = scout.waitForEvent('load');
    await offer.getByRole('button', { name: 'Use it now' }).tap();
    await loaded;
    await expect.poll(waiting).toBe(false);
    await expect(scout.getByRole('heading', { name: 'Which robot do you watch?' })).toBeVisible();
    await expect(offer).toHaveCount(0);
    await expect(scout.getByRole('link', { name: 'My records (1)' })).toBeVisible();
    proxy.closeAllConnections();
    proxy.close();
  });
}

/**
 * A network that cuts requests and answers, delays them, and delivers what it
 * delivered before once more, later and in another order. Chance has a seed.
 */
import { createServer, request, type IncomingHttpHeaders } from 'node:http';
import { once } from 'node:events';
import type { AddressInfo } from 'node:net';

export interface Rough {
  url: string;
  /** How often each happened to records on their way. */
  did: Record<'fine' | 'cut' | 'answer lost' | 'answer cut' | 'again', number>;
  /** How often records were sent. */
  sent: () => number;
  /** From now on it only passes on. */
  calm: () => void;
  close: () => void;
}

interface Letter {
  method: string;
  url: string;
  headers: IncomingHttpHeaders;
  body: Buffer;
}

/** A small generator with a seed (mulberry32). */
function random(seed: number): () => number {
  return () => {
    seed = (seed + 0x6d2b79f5) | 0;
    let t = Math.imul(seed ^ (seed >>> 15), 1 | seed);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export async function roughBefore(target: string, seed: number): Promise<Rough> {
  // What happens to records hangs on nothing but how many were sent before.
  const [sending, next] = [random(seed), random(seed + 1)];
  let calm = false;
  let sent = 0;
  const did: Rough['did'] = { fine: 0, cut: 0, 'answer lost': 0, 'answer cut': 0, again: 0 };
  const letters: Letter[] = [];

  /** Delivers once more what was delivered before; nobody waits for the answer. */
  function again() {
    const old = letters[Math.floor(next() * letters.length)];
    if (!old) return;
    did.again++;
    const onward = request(new URL(old.url, target), { method: old.method, headers: old.headers });
    onward.on('error', () => undefined);
    onward.on('response', (answer) => answer.resume());
    onward.end(old.body);
  }

  const proxy = createServer((req, res) => {
    const url = req.url ?? '/';
    const rough = !calm && /\/sync(\?|$)/.test(url);
    const post = req.method === 'POST';
    const [luck, wait] = rough ? [post ? sending() : next(), next() * 120] : [1, 0];
    if (rough && post) sent++;
    const count = (what: keyof Rough['did']) => {
      if (rough && post) did[what]++;
    };
    const chunks: Buffer[] = [];
    req.on('data', (c: Buffer) => chunks.push(c));
    req.on('end', () => {
      const body = Buffer.concat(chunks);
      if (luck < 0.2) {
        count('cut');
        res.destroy();
        return;
      }
      const letter: Letter = { method: req.method ?? 'GET', url, headers: req.headers, body };
      setTimeout(() => {
        if (rough && next() < 0.4) again();
        const onward = request(
          new URL(url, target),
          { method: letter.method, headers: letter.headers },
          (answer) => {
            if (rough && post) letters.push(letter);
            if (luck < 0.4) {
              count('answer lost');
              answer.resume();
              res.destroy();
            } else if (luck < 0.55) {
              count('answer cut');
              res.writeHead(answer.statusCode ?? 502, answer.headers);
              answer.once('data', (c: Buffer) => {
                res.write(c.subarray(0, c.length / 2), () => res.destroy());
                answer.resume();
              });
            } else {
              count('fine');
              res.writeHead(answer.statusCode ?? 502, answer.headers);
              answer.pipe(res);
            }
          }
        );
        onward.on('error', () => res.destroy());
        res.on('close', () => onward.destroyed || onward.destroy());
        onward.end(body);
      }, wait);
    });
  });
  proxy.listen(0, '127.0.0.1');
  await once(proxy, 'listening');
  const { port } = proxy.address() as AddressInfo;
  return {
    url: `http://127.0.0.1:${port}`,
    did,
    sent: () => sent,
    calm: () => (calm = true),
    close: () => {
      proxy.closeAllConnections();
      proxy.close();
    }
  };
}

import { NoAnswer, Problem, readProblem } from './problem';
import type { paths } from './schema';

type Method = 'get' | 'post' | 'put' | 'patch' | 'delete';
type Operation<P extends keyof paths, M extends Method> = NonNullable<paths[P][M]>;
type JSONOf<R> = R extends { content: { 'application/json': infer Body } } ? Body : undefined;

/** The body of a good answer, by the API's description. */
export type Body<P extends keyof paths, M extends Method> =
  Operation<P, M> extends { responses: infer R }
    ? R extends { 200: infer Good }
      ? JSONOf<Good>
      : R extends { 201: infer Good }
        ? JSONOf<Good>
        : undefined
    : never;
type Sent<P extends keyof paths, M extends Method> =
  Operation<P, M> extends { requestBody: { content: { 'application/json': infer S } } } ? S : never;
type Part<P extends keyof paths, M extends Method, K extends 'path' | 'query'> =
  Operation<P, M> extends { parameters: { [k in K]?: infer Q } } ? Q : never;

export interface Request<P extends keyof paths, M extends Method> {
  path?: Part<P, M, 'path'>;
  query?: Part<P, M, 'query'>;
  json?: Sent<P, M>;
  /** A body in another form: a table, a file. */
  raw?: { text: string | Blob; type: string };
  etag?: string;
  ifMatch?: string;
  signal?: AbortSignal;
  /** Milliseconds until we stop waiting; a dead network often gives no error. */
  timeout?: number;
}

export interface Answer<T> {
  /** Undefined for 204, and for 304: what one has is still true. */
  value: T | undefined;
  status: number;
  etag?: string;
}

/** One call of the API. Throws Problem when the server refuses, NoAnswer when nobody answers. */
export async function call<P extends keyof paths, M extends Method>(
  method: M,
  path: P,
  req: Request<P, M> = {}
): Promise<Answer<Body<P, M>>> {
  const headers: Record<string, string> = { Accept: 'application/json, application/problem+json' };
  let body: BodyInit | undefined;
  if (req.json !== undefined) {
    body = JSON.stringify(req.json);
    headers['Content-Type'] = 'application/json';
  } else if (req.raw) {
    body = req.raw.text;
    headers['Content-Type'] = req.raw.type;
  }
  if (req.etag) headers['If-None-Match'] = req.etag;
  if (req.ifMatch) headers['If-Match'] = req.ifMatch;

  // AbortSignal.any and .timeout are missing on tablets that are a few years old.
  const stop = new AbortController();
  const given = () => stop.abort(req.signal?.reason);
  if (req.signal?.aborted) given();
  req.signal?.addEventListener('abort', given);
  const limit = setTimeout(() => stop.abort(new Error('took too long')), req.timeout ?? 20_000);
  try {
    return await send(address(path, req.path as object, req.query as object), {
      method: method.toUpperCase(),
      headers,
      body,
      signal: stop.signal
    });
  } catch (error) {
    if (error instanceof Problem || req.signal?.aborted) throw error;
    throw new NoAnswer(error);
  } finally {
    clearTimeout(limit);
    req.signal?.removeEventListener('abort', given);
  }
}

async function send<T>(url: string, init: RequestInit): Promise<Answer<T>> {
  const answer = await fetch(url, { ...init, credentials: 'same-origin', cache: 'no-store' });
  const etag = answer.headers.get('ETag') ?? undefined;
  if (answer.status === 304 || answer.status === 204)
    return { value: undefined, status: answer.status, etag };
  if (!answer.ok) throw await readProblem(answer);
  // A body that is cut off in the middle throws, which counts as no answer.
  return { value: (await answer.json()) as T, status: answer.status, etag };
}

/** Posts, and hands over each line of the answer (one JSON value a line) as it comes. Throws as call does. */
export async function lines<P extends keyof paths, T>(
  path: P,
  req: Pick<Request<P, 'post'>, 'path' | 'json' | 'signal'>,
  line: (value: T) => void
): Promise<void> {
  try {
    const answer = await fetch(address(path, req.path as object), {
      method: 'POST',
      headers: {
        Accept: 'application/x-ndjson, application/problem+json',
        'Content-Type': 'application/json'
      },
      body: JSON.stringify(req.json),
      signal: req.signal,
      credentials: 'same-origin',
      cache: 'no-store'
    });
    if (!answer.ok) throw await readProblem(answer);
    const reader = answer.body?.getReader();
    const text = new TextDecoder();
    for (let rest = ''; reader;) {
      const { done, value } = await reader.read();
      const parts = (rest + text.decode(value, { stream: !done })).split('\n');
      rest = parts.pop() ?? '';
      for (const part of parts) line(JSON.parse(part) as T);
      if (done) return;
    }
  } catch (error) {
    if (error instanceof Problem || req.signal?.aborted) throw error;
    throw new NoAnswer(error);
  }
}

/** A file as it is. Throws as call does. */
export async function file(path: keyof paths, parts: object): Promise<Blob> {
  try {
    const answer = await fetch(address(path, parts), { credentials: 'same-origin' });
    if (!answer.ok) throw await readProblem(answer);
    return await answer.blob();
  } catch (error) {
    throw error instanceof Problem ? error : new NoAnswer(error);
  }
}

/** Like call, for answers that always have a body. */
export async function ask<P extends keyof paths, M extends Method>(
  method: M,
  path: P,
  req?: Request<P, M>
): Promise<NonNullable<Body<P, M>>> {
  const { value } = await call(method, path, req);
  if (value === undefined || value === null) throw new NoAnswer(`no body from ${path}`);
  return value;
}

/** `/api/events/{event}` with its parts filled in. */
export function address(path: string, parts: object = {}, query: object = {}): string {
  const filled = path.replace(/\{(\w+)\}/g, (_, name: string) =>
    encodeURIComponent(String((parts as Record<string, unknown>)[name]))
  );
  const given = Object.entries(query).filter(([, v]) => v !== undefined);
  return given.length ? `${filled}?${new URLSearchParams(given.map(([k, v]) => [k, String(v)]))}` : filled;
}

import { afterEach, describe, expect, it, vi } from 'vitest';
import { address, ask, call } from './client';
import { NoAnswer, Problem, sayError, sayPlace } from './problem';

const answer = (status: number, body: string, type = 'application/json', headers = {}) =>
  vi.stubGlobal(
    'fetch',
    vi.fn(() =>
      Promise.resolve(
        new Response(status === 204 || status === 304 ? null : body, {
          status,
          headers: { 'Content-Type': type, ...headers }
        })
      )
    )
  );

afterEach(() => {
  vi.unstubAllGlobals();
  vi.useRealTimers();
});

describe('address', () => {
  it('fills in the parts and leaves out what is not given', () => {
    expect(address('/api/events/{event}/teams', { event: 'a/b' }, { preview: true, list: undefined })).toBe(
      '/api/events/a%2Fb/teams?preview=true'
    );
  });
});

describe('call', () => {
  it('gives the value with its tag', async () => {
    answer(200, '{"teams":[]}', 'application/json', { ETag: '"7"' });
    expect(await call('get', '/api/events/{event}/teams', { path: { event: 'e' } })).toEqual({
      value: { teams: [] },
      status: 200,
      etag: '"7"'
    });
  });

  it('gives no value when nothing changed', async () => {
    answer(304, '');
    const { value } = await call('get', '/api/events/{event}/teams', { path: { event: 'e' }, etag: '"7"' });
    expect(value).toBeUndefined();
    const [, init] = vi.mocked(fetch).mock.calls[0] ?? [];
    expect(init?.headers).toMatchObject({ 'If-None-Match': '"7"' });
  });

  // A problem document as in RFC 9457, section 3.
  it('throws what the server says is wrong, with its places', async () => {
    answer(
      422,
      JSON.stringify({
        type: '/api/docs#invalid',
        title: 'Something is wrong with the input',
        status: 422,
        detail: 'Nothing was changed.',
        errors: [{ file: 'teams.csv', line: 3, column: 'team', message: '"041" is not a team' }]
      }),
      'application/problem+json'
    );
    const error = await call('get', '/api/session').catch((e: unknown) => e);
    expect(error).toBeInstanceOf(Problem);
    expect(sayError(error)).toBe('Nothing was changed: "041" is not a team');
    expect(sayPlace((error as Problem).items[0]!)).toBe('teams.csv, line 3, column team');
  });

  it('has words for a refusal that is no problem document', async () => {
    answer(502, '<html>bad gateway</html>', 'text/html');
    await expect(call('get', '/api/session')).rejects.toThrow('The server is starting or busy.');
    answer(418, 'short and stout', 'text/plain');
    await expect(call('get', '/api/session')).rejects.toThrow('The server answered 418');
  });

  it('calls silence, a cut-off body and a dead network no answer', async () => {
    answer(200, '{"teams":[');
    await expect(ask('get', '/api/session')).rejects.toBeInstanceOf(NoAnswer);
    vi.stubGlobal('fetch', vi.fn().mockRejectedValue(new TypeError('Failed to fetch')));
    await expect(ask('get', '/api/session')).rejects.toBeInstanceOf(NoAnswer);

    vi.useFakeTimers();
    vi.stubGlobal(
      'fetch',
      vi.fn(
        (_: string, init: RequestInit) =>
          new Promise((_, no) => init.signal?.addEventListener('abort', () => no(new Error('aborted'))))
      )
    );
    const waiting = expect(ask('get', '/api/session', { timeout: 5_000 })).rejects.toBeInstanceOf(NoAnswer);
    await vi.advanceTimersByTimeAsync(5_000);
    await waiting;
  });
});

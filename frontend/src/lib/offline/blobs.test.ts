// @vitest-environment node
import 'fake-indexeddb/auto';
import { createHash } from 'node:crypto';
import { beforeEach, expect, test, vi } from 'vitest';
import { NoAnswer, Problem } from '../api';
import { blobOf, keepBlob, sendBlobs, unsentBlobs } from './blobs';
import { database } from './db';

const event = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';
const picture = (text: string) => new Blob([text], { type: 'image/jpeg' });
const digest = (text: string) => createHash('sha256').update(text).digest('hex');

beforeEach(async () => {
  const db = await database();
  await db.clear('blobs');
});

test('a picture waits until the server has it, and is sent once', async () => {
  const name = await keepBlob(event, picture('a robot'));
  expect(name).toBe(digest('a robot'));
  await keepBlob(event, picture('a robot'));
  const db = await database();
  expect(await unsentBlobs(db, event)).toBe(1);

  const gone = vi.fn().mockRejectedValue(new NoAnswer('no network'));
  await expect(sendBlobs(db, event, gone)).rejects.toThrow();
  expect(await unsentBlobs(db, event)).toBe(1);

  const put = vi.fn().mockResolvedValue(undefined);
  await sendBlobs(db, event, put);
  await sendBlobs(db, event, put);
  expect(put).toHaveBeenCalledTimes(1);
  expect(put.mock.calls[0]?.[1]).toBe(name);
  expect(await unsentBlobs(db, event)).toBe(0);
  // It is still here to look at.
  const fetch = vi.fn();
  expect(await (await blobOf(event, name, fetch))?.text()).toBe('a robot');
  expect(fetch).not.toHaveBeenCalled();
});

test('one that the server refuses holds up no other, and is not lost', async () => {
  const bad = await keepBlob(event, picture('no picture'));
  const good = await keepBlob(event, picture('another'));
  const put = vi.fn((_: string, sha: string) =>
    sha === bad
      ? Promise.reject(new Problem(415, { type: 'wrong-media-type', detail: 'This is no picture.' }))
      : Promise.resolve()
  );
  const db = await database();
  await sendBlobs(db, event, put);
  expect(await unsentBlobs(db, event)).toBe(0);
  expect((await db.get('blobs', [event, bad]))?.refused).toContain('no picture');
  expect((await db.get('blobs', [event, good]))?.refused).toBeUndefined();
});

test('one of another device is fetched once; without a network there is none', async () => {
  const sha = digest('elsewhere');
  expect(await blobOf(event, sha, vi.fn().mockRejectedValue(new NoAnswer('gone')))).toBeUndefined();
  const fetch = vi.fn().mockResolvedValue(picture('elsewhere'));
  expect(await (await blobOf(event, sha, fetch))?.text()).toBe('elsewhere');
  expect(await (await blobOf(event, sha, fetch))?.text()).toBe('elsewhere');
  expect(fetch).toHaveBeenCalledTimes(1);
});

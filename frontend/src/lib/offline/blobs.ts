/**
 * Pictures: kept on this device first, sent when there is a network, fetched when
 * somebody looks at one. A picture is known by the SHA-256 of its bytes as they
 * were here, so the same one is kept and sent once.
 */
import { blobs as remote, Problem } from '../api';
import { database, type DB, type KeptBlob } from './db';
import { announce } from './notify';
import { inWords } from './storage';

const hex = (bytes: ArrayBuffer): string =>
  [...new Uint8Array(bytes)].map((b) => b.toString(16).padStart(2, '0')).join('');

/** Keeps a picture that was taken here. Returns its name; it is safe then. */
export async function keepBlob(event: string, picture: Blob): Promise<string> {
  // An address without https has no crypto.subtle.
  if (!globalThis.crypto?.subtle)
    throw new Error(
      'Photos can be kept only where the address begins with https. The rest of the form works.'
    );
  const bytes = await picture.arrayBuffer();
  const sha256 = hex(await crypto.subtle.digest('SHA-256', bytes));
  const kept: KeptBlob = { event, sha256, media: picture.type, bytes, unsent: event };
  try {
    const db = await database();
    if (!(await db.get('blobs', [event, sha256]))) await db.put('blobs', kept);
  } catch (error) {
    throw inWords(error);
  }
  announce({ event, outbox: true });
  return sha256;
}

/** Sends what is here alone. What the server refuses stays, with the reason; no network throws. */
export async function sendBlobs(db: DB, event: string, send: typeof remote.put = remote.put): Promise<void> {
  for (const sha256 of await db.getAllKeysFromIndex('blobs', 'unsent', event)) {
    const kept = await db.get('blobs', sha256);
    if (!kept) continue;
    const { unsent: _, ...rest } = kept;
    try {
      await send(event, kept.sha256, new Blob([kept.bytes], { type: kept.media }));
      await db.put('blobs', rest);
    } catch (error) {
      if (!(error instanceof Problem) || ![400, 413, 415, 422].includes(error.status)) throw error;
      await db.put('blobs', { ...rest, refused: error.message });
    }
  }
}

/** How many pictures of an event are on this device alone. */
export const unsentBlobs = async (db: DB, event: string): Promise<number> =>
  db.countFromIndex('blobs', 'unsent', event);

/** A picture: the one that is here, else the server's, which is kept then. undefined: neither. */
export async function blobOf(
  event: string,
  sha256: string,
  fetch: typeof remote.read = remote.read
): Promise<Blob | undefined> {
  const db = await database();
  const kept = await db.get('blobs', [event, sha256]);
  if (kept) return new Blob([kept.bytes], { type: kept.media });
  try {
    const picture = await fetch(event, sha256);
    const bytes = await picture.arrayBuffer();
    // A full disk is no reason not to show it.
    await db.put('blobs', { event, sha256, media: picture.type, bytes }).catch(() => undefined);
    return picture;
  } catch {
    return undefined;
  }
}

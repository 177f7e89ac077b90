/**
 * A bundle, sealed: packed (deflate, RFC 1951) and encrypted (AES-256-GCM, NIST
 * SP 800-38D) with a key of the event, since anybody can film a screen. The form
 * is written down in format.md.
 */
import { Told } from '../api';

/** The form of bundles, frames and files that this app speaks. */
export const CARRY_PROTOCOL = 1;

/** Who may open a bundle: everybody in the event, or lead and coach. */
export type Audience = 'all' | 'staff';

/** The keys that the server gave this device, in base64; a scout has neither second nor last. */
export interface Keys {
  all: string;
  staff?: string | undefined;
  /** Checks what leads sign; missing on a device that got its keys before they did. */
  check?: string | undefined;
  sign?: string | undefined;
}

const AUDIENCES: Audience[] = ['all', 'staff'];
const HEAD = 18; // protocol, audience, 4 of the key's name, 12 of the nonce
const TAG = 16;
/** Far above the largest event, so that nothing that only looks like a bundle fills the memory. */
const MOST_SEALED = 2 << 20;
const MOST_OPEN = 12 << 20;

type Bytes = Uint8Array<ArrayBuffer>;

/** What does not open, with the reason in a sentence for people. */
const told = (text: string): Told => new Told(text);

export async function seal(
  content: unknown,
  event: string,
  audience: Audience,
  keys: Keys | undefined
): Promise<Bytes> {
  const raw = rawKey(keys, audience);
  if (!raw) throw told(noKey(audience));
  const head = new Uint8Array(HEAD);
  head.set([CARRY_PROTOCOL, AUDIENCES.indexOf(audience)]);
  head.set(await nameOf(raw), 2);
  crypto.getRandomValues(head.subarray(6));
  const plain = new TextEncoder().encode(JSON.stringify(content));
  const closed = await subtle().encrypt(
    gcm(head, event),
    await importKey(raw, 'encrypt'),
    await piped(plain, new CompressionStream('deflate-raw'), MOST_OPEN)
  );
  const sealed = joined(head, new Uint8Array(closed));
  if (sealed.length > MOST_SEALED)
    throw told('This is too much to carry without a network. Choose less of it.');
  return sealed;
}

/** Whom a sealed bundle is for, and so who can have made it; what is sealed vouches for it once it opened. */
export const audienceOf = (sealed: Bytes): Audience => AUDIENCES[sealed[1] ?? 0] ?? 'all';

/** The content; throws Told with what is wrong. */
export async function unseal(sealed: Bytes, event: string, keys: Keys | undefined): Promise<unknown> {
  if (sealed.length < 1) throw told(DAMAGED);
  checkProtocol(sealed[0]!);
  if (sealed.length < HEAD + TAG || sealed.length > MOST_SEALED) throw told(DAMAGED);
  const head = sealed.slice(0, HEAD);
  const audience = AUDIENCES[head[1]!];
  if (!audience) throw told(DAMAGED);
  const raw = rawKey(keys, audience);
  if (!raw) throw told(noKey(audience, keys));
  if (!same(await nameOf(raw), head.subarray(2, 6)))
    throw told(
      'This was sealed with another key of the event. Let both devices reach the server once, then show it anew.'
    );
  let packed: ArrayBuffer;
  try {
    packed = await subtle().decrypt(gcm(head, event), await importKey(raw, 'decrypt'), sealed.slice(HEAD));
  } catch {
    throw told(DAMAGED);
  }
  try {
    const plain = await piped(new Uint8Array(packed), new DecompressionStream('deflate-raw'), MOST_OPEN);
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(plain)) as unknown;
  } catch {
    throw told(DAMAGED);
  }
}

export const DAMAGED =
  'This was damaged on the way: what arrived is not what was sent. Show it once more, or take the file.';

/** Throws if this app does not speak the form. */
export function checkProtocol(protocol: number): void {
  if (protocol === CARRY_PROTOCOL) return;
  const which = protocol < CARRY_PROTOCOL ? 'the other device has an older' : 'this device has an older';
  throw told(
    `The devices do not understand each other: ${which} version of the app (it speaks form ${protocol}, this one ${CARRY_PROTOCOL}). Let it load the app again where there is a network; nothing is lost until then.`
  );
}

function noKey(audience: Audience, keys?: Keys): string {
  return audience === 'staff' && keys
    ? 'This is for lead and coach; it does not open on a scout’s device.'
    : 'This device has no key of the event yet: it gets one when it reaches the server. Until then nothing can be shown or taken in.';
}

const rawKey = (keys: Keys | undefined, audience: Audience): Bytes | undefined =>
  keys?.[audience] === undefined ? undefined : fromBase64(keys[audience]);

export const fromBase64 = (text: string): Bytes => Uint8Array.from(atob(text), (c) => c.charCodeAt(0));

export function subtle(): SubtleCrypto {
  if (!globalThis.crypto?.subtle)
    throw told(
      'This address is not secure (no https), so the browser encrypts nothing. Open the app under its https address, or save the unsent records as a plain file.'
    );
  return crypto.subtle;
}

const importKey = (raw: Bytes, use: KeyUsage): Promise<CryptoKey> =>
  subtle().importKey('raw', raw, 'AES-GCM', false, [use]);

/** A key's name: enough to tell keys apart, not to know one. */
const nameOf = async (raw: Bytes): Promise<Uint8Array> => (await sha256(raw)).subarray(0, 4);

/** What is not encrypted is authenticated, and the whole id of the event with it. */
const gcm = (head: Bytes, event: string): AesGcmParams => ({
  name: 'AES-GCM',
  iv: head.slice(6),
  additionalData: joined(head, new TextEncoder().encode(event.toLowerCase()))
});

export async function sha256(bytes: Bytes): Promise<Bytes> {
  return new Uint8Array(await subtle().digest('SHA-256', bytes));
}

/**
 * Says which bundle the lead has: eight characters that only a device with the
 * key can form (HMAC-SHA-256, RFC 2104), to be shown, or read out and typed.
 */
export async function receipt(bundle: string, keys: Keys | undefined): Promise<string> {
  const raw = rawKey(keys, 'all');
  if (!raw) throw told(noKey('all'));
  const key = await subtle().importKey('raw', raw, { name: 'HMAC', hash: 'SHA-256' }, false, ['sign']);
  const mac = new Uint8Array(await subtle().sign('HMAC', key, new TextEncoder().encode(`receipt ${bundle}`)));
  const text = [...mac.subarray(0, 8)].map((b) => LETTERS[b % 32]).join('');
  return `${text.slice(0, 4)}-${text.slice(4)}`;
}

/** No letters that are taken for digits or for each other. */
const LETTERS = '23456789ABCDEFGHJKLMNPQRSTUVWXYZ';

/** A receipt as somebody typed it, in the form that receipt gives; undefined: it is none. */
export function readReceipt(text: string): string | undefined {
  const letters = text.toUpperCase().replace(/[\s-]/g, '');
  if (letters.length !== 8 || [...letters].some((c) => !LETTERS.includes(c))) return undefined;
  return `${letters.slice(0, 4)}-${letters.slice(4)}`;
}

export function joined(...parts: Uint8Array[]): Bytes {
  const out = new Uint8Array(parts.reduce((n, p) => n + p.length, 0));
  let at = 0;
  for (const p of parts) {
    out.set(p, at);
    at += p.length;
  }
  return out;
}

export const same = (a: Uint8Array, b: Uint8Array): boolean =>
  a.length === b.length && a.every((x, i) => x === b[i]);

/** Packs or unpacks, and stops where the result grows beyond all measure. */
async function piped(bytes: Bytes, through: CompressionStream | DecompressionStream, most: number) {
  const writer = through.writable.getWriter();
  // What goes wrong shows where it is read.
  writer.write(bytes).catch(() => undefined);
  writer.close().catch(() => undefined);
  const reader = through.readable.getReader();
  const parts: Uint8Array[] = [];
  for (let size = 0; ;) {
    const { done, value } = await reader.read();
    if (done) return joined(...parts);
    size += value.length;
    if (size > most) {
      await reader.cancel();
      throw told(DAMAGED);
    }
    parts.push(value);
  }
}

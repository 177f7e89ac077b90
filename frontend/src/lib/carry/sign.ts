/**
 * What a lead gives out is signed (ECDSA, P-256 and SHA-256, FIPS 186-5): the key
 * that seals it is on each scout's tablet too, and a false schedule or rota would
 * send everybody to the wrong robot.
 */
import { Told } from '../api';
import type { Out } from './content';
import { fromBase64, joined, subtle, type Keys } from './seal';

/** What is sealed in place of what is given out. */
interface Signed {
  what: 'signed';
  /** The JSON of an Out. */
  content: string;
  /** 64 bytes in base64: r and s, 32 bytes each (IEEE P1363). */
  signature: string;
}

const CURVE = { name: 'ECDSA', namedCurve: 'P-256' };
const HOW = { name: 'ECDSA', hash: 'SHA-256' };
const WAIT = 'It comes with the next answer of the server.';

/** What is signed: the event too, so that nothing is taken for another one's. */
const message = (content: string, event: string): Uint8Array<ArrayBuffer> =>
  joined(new TextEncoder().encode(`sextant carry 1 out ${event.toLowerCase()} ${content}`));

/** Signs with the lead's key; throws Told if this device has none. */
export async function sign(out: Out, event: string, keys: Keys | undefined): Promise<Signed> {
  if (!keys?.sign) throw new Told(`This device has no key to sign what it gives out. ${WAIT}`);
  const key = await subtle().importKey('pkcs8', fromBase64(keys.sign), CURVE, false, ['sign']);
  const content = JSON.stringify(out);
  const signature = new Uint8Array(await subtle().sign(HOW, key, message(content, event)));
  return { what: 'signed', content, signature: btoa(String.fromCharCode(...signature)) };
}

/**
 * What was signed, or what needs no signature (records on their way home speak for
 * themselves); throws Told if it does and has none that is right.
 */
export async function checked(value: unknown, event: string, keys: Keys | undefined): Promise<unknown> {
  const { what, content, signature } = (value ?? {}) as { what?: unknown } & Partial<Omit<Signed, 'what'>>;
  if (what === 'out')
    throw new Told(
      'This is not signed, so nobody knows whether a lead gave it out, and nothing of it was taken over. Let the lead’s device load the app again where there is a network, then show it anew.'
    );
  if (what !== 'signed') return value;
  if (!keys?.check)
    throw new Told(`This device has no key yet to check whether a lead gave this out. ${WAIT}`);
  const key = await subtle().importKey('spki', fromBase64(keys.check), CURVE, false, ['verify']);
  if (!(await isRight(key, String(signature), message(String(content), event))))
    throw new Told(
      'The signature is wrong: no lead of this event gave this out, and nothing of it was taken over. Tell your lead who showed it.'
    );
  return JSON.parse(String(content));
}

async function isRight(key: CryptoKey, signature: string, signed: Uint8Array<ArrayBuffer>): Promise<boolean> {
  try {
    return await subtle().verify(HOW, key, fromBase64(signature), signed);
  } catch {
    return false; // no base64
  }
}

/** A sealed bundle in pieces that fit into one code each, and back, in any order. The form stands in format.md. */
import { Told } from '../api';
import { decode, encode } from './base45';
import { crc32 } from './crc';
import { CARRY_PROTOCOL, DAMAGED, checkProtocol, joined, same, sha256 } from './seal';

/** Bytes of a whole frame: near by, and for a camera that is further away. */
export const NEAR = 400;
export const FAR = 200;

const MAGIC = [0x53, 0x58]; // "SX"
const HEAD = 19; // magic, protocol, 4 of the event, 4 of the bundle, index, total, CRC-32
/** More than a bundle may be long, in the small frames. */
const MOST_FRAMES = 12_000;
/** The largest QR code in its alphanumeric mode (ISO/IEC 18004, version 40-L). */
const MOST_LETTERS = 4296;
/** Bundles that are half read at a time; who shows a new one has given up the old. */
const MOST_BUNDLES = 4;

type Bytes = Uint8Array<ArrayBuffer>;

export interface Frame {
  /** Names the bundle: the start of the SHA-256 of what was sealed, in hexadecimal. */
  bundle: string;
  /** From 0. */
  index: number;
  total: number;
  payload: Bytes;
}

/** The frames of a bundle, each as the text of one code. */
export async function frames(
  sealed: Bytes,
  event: string,
  size: number
): Promise<{ bundle: string; texts: string[] }> {
  const id = (await sha256(sealed)).subarray(0, 4);
  const room = size - HEAD;
  const total = Math.max(1, Math.ceil(sealed.length / room));
  const texts = Array.from({ length: total }, (_, index) => {
    const frame = joined(
      Uint8Array.from([...MAGIC, CARRY_PROTOCOL]),
      short(event),
      id,
      new Uint8Array(8),
      sealed.subarray(index * room, (index + 1) * room)
    );
    const view = new DataView(frame.buffer);
    view.setUint16(11, index);
    view.setUint16(13, total);
    view.setUint32(15, crc32(frame)); // taken while its own place is zero
    return encode(frame);
  });
  return { bundle: hex(id), texts };
}

/** Reads the text of one code; throws Told with what is wrong with it. */
export function readFrame(text: string, event: string): Frame {
  // A reader with caps lock on types small letters; base45 has none.
  const frame = text.length <= MOST_LETTERS ? decode(text.toUpperCase()) : undefined;
  if (!frame || frame.length < 3 || frame[0] !== MAGIC[0] || frame[1] !== MAGIC[1])
    throw new Told('This code is not one that Sextant shows.');
  if (frame.length <= HEAD) throw new Told(MISREAD);
  const view = new DataView(frame.buffer);
  const crc = view.getUint32(15);
  view.setUint32(15, 0);
  if (crc32(frame) !== crc) throw new Told(MISREAD);
  // After the sum, which stands there in every form: a slip must not look like another form.
  checkProtocol(frame[2]!);
  if (!same(frame.subarray(3, 7), short(event)))
    throw new Told(
      'This code is of another event. Open that event here, or look whether the other device is in the right one.'
    );
  const [index, total] = [view.getUint16(11), view.getUint16(13)];
  if (total < 1 || total > MOST_FRAMES || index >= total) throw new Told(MISREAD);
  return { bundle: hex(frame.subarray(7, 11)), index, total, payload: frame.slice(HEAD) };
}

const MISREAD = 'This code was misread. Hold on it once more.';

interface Pile {
  total: number;
  parts: Map<number, Bytes>;
}

/** Gathers frames in any order, with doubles, of several bundles one after another. */
export class Collector {
  readonly #event: string;
  readonly #piles = new Map<string, Pile>();

  constructor(event: string) {
    this.#event = event;
  }

  /** Takes the text of one code. Throws Told for one that is of no use. */
  add(text: string): { bundle: string; isNew: boolean; whole: boolean } {
    const { bundle, index, total, payload } = readFrame(text, this.#event);
    let pile = this.#piles.get(bundle);
    if (pile && pile.total !== total) {
      // The same bundle in frames of another size: begin anew.
      this.#piles.delete(bundle);
      pile = undefined;
    }
    if (!pile) {
      pile = { total, parts: new Map() };
      this.#piles.set(bundle, pile);
      const oldest = this.#piles.keys().next().value;
      if (this.#piles.size > MOST_BUNDLES && oldest !== undefined) this.#piles.delete(oldest);
    }
    const isNew = !pile.parts.has(index);
    if (isNew) pile.parts.set(index, payload);
    return { bundle, isNew, whole: pile.parts.size === total };
  }

  /** How far a bundle is: how many frames it has, and the numbers (from 1) of those still to come. */
  missing(bundle: string): { total: number; numbers: number[] } {
    const { total, parts } = this.#piles.get(bundle) ?? { total: 0, parts: new Map() };
    const numbers = Array.from({ length: total }, (_, i) => i + 1).filter((n) => !parts.has(n - 1));
    return { total, numbers };
  }

  /** What was sealed, of a whole bundle; forgets its frames. Throws Told if they do not belong together. */
  async take(bundle: string): Promise<Bytes> {
    const { total, parts } = this.#piles.get(bundle) ?? { total: 0, parts: new Map<number, Bytes>() };
    this.#piles.delete(bundle);
    const sealed = joined(...Array.from({ length: total }, (_, i) => parts.get(i) ?? new Uint8Array()));
    if (total === 0 || hex((await sha256(sealed)).subarray(0, 4)) !== bundle) throw new Told(DAMAGED);
    return sealed;
  }
}

const FILE = [0x53, 0x58, 0x42, 0x31]; // "SXB1"

/** A file is the same bundle, behind four bytes that say so and the event's short name. */
export const asCarryFile = (sealed: Bytes, event: string): Bytes =>
  joined(Uint8Array.from(FILE), short(event), sealed);

/**
 * The same file as text, in base45: browsers of the Chromium family hand no file
 * to another app whose ending they do not know (from memory of MDN, Navigator.share,
 * "Shareable file types"), and `.txt` is one of those that they do.
 */
export const asCarryText = (sealed: Bytes, event: string): string => encode(asCarryFile(sealed, event));

/** Far more than the text of the longest bundle. */
const MOST_TEXT = 4 << 20;

/** The bytes of a file, whichever of its two forms it has; undefined: it has neither. */
function bytesOf(file: Bytes): Bytes | undefined {
  const isOurs = (bytes: Bytes | undefined) => bytes && same(bytes.subarray(0, 4), Uint8Array.from(FILE));
  if (isOurs(file)) return file;
  if (file.length > MOST_TEXT) return undefined;
  // A space is a letter, but neither the first, which the mark decides, nor the last: that is the highest digit.
  const bytes = decode(new TextDecoder().decode(file).trim());
  return isOurs(bytes) ? bytes : undefined;
}

/** What was sealed, and its name; throws Told. */
export async function readCarryFile(file: Bytes, event: string): Promise<{ sealed: Bytes; bundle: string }> {
  const bytes = bytesOf(file);
  if (!bytes) throw new Told('This file is not one that Sextant saved to be carried.');
  if (bytes.length < 9) throw new Told(DAMAGED);
  if (!same(bytes.subarray(4, 8), short(event)))
    throw new Told('This file is of another event. Open that event here.');
  const sealed = bytes.slice(8);
  return { sealed, bundle: hex((await sha256(sealed)).subarray(0, 4)) };
}

/** An event's short name: the last four bytes of its id, which are random (RFC 9562). */
function short(event: string): Bytes {
  const digits = event.replaceAll('-', '').slice(-8);
  return Uint8Array.from({ length: 4 }, (_, i) => parseInt(digits.slice(2 * i, 2 * i + 2), 16));
}

const hex = (bytes: Uint8Array): string => [...bytes].map((b) => b.toString(16).padStart(2, '0')).join('');

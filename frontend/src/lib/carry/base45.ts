/**
 * Base45 (RFC 9285): bytes in the 45 characters that a QR code packs two to
 * eleven bits, and that every keyboard layout of a barcode reader can type. A
 * space is one of them.
 */
const ALPHABET = '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:';
const VALUE = new Map([...ALPHABET].map((c, i) => [c, i]));

export function encode(bytes: Uint8Array): string {
  let out = '';
  for (let i = 0; i < bytes.length; i += 2) {
    const two = i + 1 < bytes.length;
    let n = two ? bytes[i]! * 256 + bytes[i + 1]! : bytes[i]!;
    for (let k = two ? 3 : 2; k > 0; k--, n = Math.floor(n / 45)) out += ALPHABET[n % 45];
  }
  return out;
}

/** The bytes; undefined if the text is none of base45's. */
export function decode(text: string): Uint8Array<ArrayBuffer> | undefined {
  if (text.length % 3 === 1) return undefined;
  const out = new Uint8Array(Math.floor(text.length / 3) * 2 + (text.length % 3 === 2 ? 1 : 0));
  let at = 0;
  for (let i = 0; i < text.length; i += 3) {
    const part = [...text.slice(i, i + 3)].map((c) => VALUE.get(c));
    const [a, b, c] = part;
    if (part.includes(undefined) || a === undefined || b === undefined) return undefined;
    const n = a + b * 45 + (c ?? 0) * 45 * 45;
    if (n > (part.length === 3 ? 0xffff : 0xff)) return undefined;
    if (part.length === 3) out[at++] = n >> 8;
    out[at++] = n & 0xff;
  }
  return out;
}

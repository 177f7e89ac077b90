// @vitest-environment node
import { describe, expect, it } from 'vitest';
import { decode, encode } from './base45';

const bytes = (text: string) => new TextEncoder().encode(text);

describe('base45', () => {
  // RFC 9285, sections 4.3 and 4.4.
  it.each([
    ['AB', 'BB8'],
    ['Hello!!', '%69 VD92EX0'],
    ['base-45', 'UJCLQE7W581'],
    ['ietf!', 'QED8WEX0']
  ])('writes and reads %s as in the RFC', (plain, text) => {
    expect(encode(bytes(plain))).toBe(text);
    expect(decode(text)).toEqual(bytes(plain));
  });

  it.each([
    ['a length that no bytes give', 'ABCD'],
    ['a letter outside the alphabet', 'ab8'],
    ['three letters above 65535 (RFC 9285, section 6)', 'GGW'],
    ['two letters above 255', '::']
  ])('refuses %s', (_, text) => expect(decode(text)).toBeUndefined());

  it('keeps a space that comes first', () => {
    // A byte 36 is the value of a space (RFC 9285, table 1) and a 0. No text ends in a space: that would be above 65535.
    expect(encode(Uint8Array.of(36))).toBe(' 0');
    expect(decode(' 0')).toEqual(Uint8Array.of(36));
  });

  it('reads every pair of bytes back', () => {
    const all = new Uint8Array(2 * 65536 + 1);
    for (let n = 0; n < 65536; n++) all.set([n >> 8, n & 255], 2 * n);
    expect(decode(encode(all))).toEqual(all);
  });
});

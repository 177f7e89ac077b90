// @vitest-environment node
import { createDecipheriv, createHash, createHmac } from 'node:crypto';
import { crc32 as zlibCrc, inflateRawSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { Told } from '../api';
import { decode, encode } from './base45';
import { crc32 } from './crc';
import { asCarryFile, asCarryText, Collector, FAR, frames, NEAR, readCarryFile, readFrame } from './frames';
import { readReceipt, receipt, seal, unseal, type Keys } from './seal';

const event = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';
const elsewhere = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e60';
const key = (fill: number) => Buffer.alloc(32, fill).toString('base64');
const lead: Keys = { all: key(1), staff: key(2) };
const scout: Keys = { all: key(1) };

/** Park and Miller's generator (Communications of the ACM 31, 1988): the same numbers each time. */
function random(seed: number): () => number {
  let x = seed;
  return () => (x = (x * 48271) % 2147483647) / 2147483647;
}
const shuffled = <T>(items: T[], next: () => number): T[] =>
  items
    .map((item) => [next(), item] as const)
    .toSorted((a, b) => a[0] - b[0])
    .map(([, item]) => item);

/** Text that does not shrink much. */
const content = (size: number, next = random(7)) => ({
  text: Array.from({ length: size }, () => String.fromCharCode(33 + Math.floor(next() * 90))).join('')
});
const why = async (work: () => unknown): Promise<string> => {
  try {
    await work();
  } catch (error) {
    expect(error).toBeInstanceOf(Told);
    return (error as Error).message;
  }
  return 'nothing was wrong';
};

describe('crc32', () => {
  it('gives the check value of the catalogue of CRCs for 123456789, and what zlib gives', () => {
    expect(crc32(new TextEncoder().encode('123456789'))).toBe(0xcbf43926);
    const next = random(3);
    const some = Uint8Array.from({ length: 5000 }, () => next() * 256);
    expect(crc32(some)).toBe(zlibCrc(some));
  });
});

describe('a sealed bundle', () => {
  it('opens by the written form with another implementation (OpenSSL and zlib of Node)', async () => {
    const sealed = await seal({ hello: 'ä' }, event, 'all', scout);
    const secret = Buffer.alloc(32, 1);
    expect([...sealed.subarray(0, 2)]).toEqual([1, 0]);
    expect(Buffer.from(sealed.subarray(2, 6))).toEqual(
      createHash('sha256').update(secret).digest().subarray(0, 4)
    );
    const open = createDecipheriv('aes-256-gcm', secret, sealed.subarray(6, 18));
    open.setAAD(Buffer.concat([sealed.subarray(0, 18), Buffer.from(event)]));
    open.setAuthTag(sealed.subarray(-16));
    const packed = Buffer.concat([open.update(sealed.subarray(18, -16)), open.final()]);
    expect(inflateRawSync(packed).toString()).toBe('{"hello":"ä"}');
  });

  it('never looks the same twice, so that nobody sees that nothing changed', async () => {
    expect(await seal('x', event, 'all', scout)).not.toEqual(await seal('x', event, 'all', scout));
  });

  it.each([
    ['by everybody', 'all', scout, lead],
    ['from a lead, by everybody', 'all', lead, scout],
    ['by the staff', 'staff', lead, lead]
  ] as const)('opens %s', async (_, audience, from, to) => {
    const sealed = await seal(content(1000), event, audience, from);
    expect(await unseal(sealed, event, to)).toEqual(content(1000));
  });

  const changed =
    (at: number, by = 1) =>
    async () => {
      const sealed = await seal(content(100), event, 'all', scout);
      sealed[at < 0 ? sealed.length + at : at]! ^= by;
      return unseal(sealed, event, scout);
    };
  it.each([
    [
      'a scout opens what is for the staff',
      async () => unseal(await seal(1, event, 'staff', lead), event, scout),
      'This is for lead and coach'
    ],
    ['a scout seals for the staff', () => seal(1, event, 'staff', scout), 'This device has no key'],
    ['the device has no key yet', () => seal(1, event, 'all', undefined), 'This device has no key'],
    [
      'it was sealed with another key',
      async () => unseal(await seal(1, event, 'all', { all: key(9) }), event, scout),
      'This was sealed with another key'
    ],
    [
      'it is of another event',
      async () => unseal(await seal(1, elsewhere, 'all', scout), event, scout),
      'This was damaged'
    ],
    ['an older form', changed(0), 'The devices do not understand each other: the other device has an older'],
    ['a newer form', changed(0, 3), 'The devices do not understand each other: this device has an older'],
    ['an unknown audience', changed(1, 8), 'This was damaged'],
    ['a changed nonce', changed(7), 'This was damaged'],
    ['a changed byte', changed(30), 'This was damaged'],
    ['a changed tag', changed(-1), 'This was damaged'],
    ['nothing', () => unseal(new Uint8Array(), event, scout), 'This was damaged'],
    [
      'its head alone',
      async () => unseal((await seal(1, event, 'all', scout)).slice(0, 20), event, scout),
      'This was damaged'
    ]
  ])('says what is wrong: %s', async (_, work, said) => expect(await why(work)).toContain(said));

  it('refuses what would unpack beyond all measure', async () => {
    const huge = 'x'.repeat(13 << 20);
    const sealed = await seal(huge, event, 'all', scout);
    expect(sealed.length).toBeLessThan(50_000);
    expect(await why(() => unseal(sealed, event, scout))).toContain('This was damaged');
  });
});

describe('frames', () => {
  it.each([
    [NEAR, 600],
    [FAR, 300]
  ])('of %d bytes are %d letters of the alphanumeric set of QR codes', async (size, letters) => {
    const { texts } = await frames(await seal(content(5000), event, 'all', scout), event, size);
    expect(texts.length).toBeGreaterThan(3);
    for (const text of texts.slice(0, -1)) expect(text).toHaveLength(letters);
    for (const text of texts) expect(text).toMatch(/^[0-9A-Z $%*+\-./:]+$/);
  });

  it('come together in any order, with doubles, two bundles mixed', async () => {
    for (let seed = 1; seed <= 30; seed++) {
      const next = random(seed);
      const contents = [content(Math.floor(next() * 4000), next), content(Math.floor(next() * 4000), next)];
      const cut = await Promise.all(
        contents.map(async (c) =>
          frames(await seal(c, event, 'all', scout), event, next() < 0.5 ? NEAR : FAR)
        )
      );
      const collector = new Collector(event);
      const opened = new Map<string, unknown>();
      const all = cut.flatMap((c) => c.texts);
      for (const text of shuffled([...all, ...all.filter(() => next() < 0.3)], next)) {
        const { bundle, isNew, whole } = collector.add(text);
        const missing = collector.missing(bundle).numbers.length;
        expect(whole).toBe(missing === 0);
        if (whole && isNew && !opened.has(bundle))
          opened.set(bundle, await unseal(await collector.take(bundle), event, scout));
      }
      expect(cut.map((c) => opened.get(c.bundle))).toEqual(contents);
    }
  });

  it('tell which are missing, by their numbers from 1', async () => {
    const { bundle, texts } = await frames(await seal(content(2000), event, 'all', scout), event, FAR);
    const collector = new Collector(event);
    texts.forEach((text, i) => [1, 4].includes(i) || collector.add(text));
    expect(collector.missing(bundle)).toEqual({ total: texts.length, numbers: [2, 5] });
  });

  /** A frame with one byte changed; the check sum made right again where that is wanted. */
  async function bent(at: number, value: number, mend = true): Promise<string> {
    const { texts } = await frames(await seal(content(900), event, 'all', scout), event, NEAR);
    const frame = decode(texts[0]!)!;
    frame[at] = value;
    if (mend) {
      frame.fill(0, 15, 19);
      new DataView(frame.buffer).setUint32(15, crc32(frame));
    }
    return encode(frame);
  }
  it.each([
    [
      'another product’s code',
      async () => 'https://example.org/A',
      'This code is not one that Sextant shows'
    ],
    [
      'base45 of something else',
      async () => encode(new TextEncoder().encode('hello there')),
      'This code is not one that Sextant shows'
    ],
    ['an old form', () => bent(2, 0), 'The devices do not understand each other: the other device'],
    ['another event', () => bent(3, 0), 'This code is of another event'],
    ['a slip in the payload', () => bent(100, 0, false), 'This code was misread'],
    ['a slip in the head', () => bent(12, 9, false), 'This code was misread'],
    ['a slip in the form', () => bent(2, 9, false), 'This code was misread'],
    ['a frame behind the last', () => bent(12, 200), 'This code was misread'],
    ['a frame that was cut off', async () => (await bent(2, 1)).slice(0, 300), 'This code was misread'],
    ['a text without end', async () => '0'.repeat(3_000_000), 'This code is not one that Sextant shows']
  ])('say what is wrong: %s', async (_, make, said) => {
    const text = await make();
    expect(await why(() => new Collector(event).add(text))).toContain(said);
  });

  it('that were swapped between bundles do not open', async () => {
    const [a, b] = await Promise.all(
      [1, 2].map(async (n) => frames(await seal(content(900, random(n)), event, 'all', scout), event, NEAR))
    );
    const frame = decode(b!.texts[1]!)!;
    frame.set(decode(a!.texts[1]!)!.subarray(7, 11), 7);
    frame.fill(0, 15, 19);
    new DataView(frame.buffer).setUint32(15, crc32(frame));
    const collector = new Collector(event);
    for (const text of [a!.texts[0]!, encode(frame), ...a!.texts.slice(2)]) collector.add(text);
    expect(await why(() => collector.take(a!.bundle))).toContain('This was damaged');
  });

  it('typed by a reader with caps lock on are the same', async () => {
    const { texts } = await frames(await seal(content(300), event, 'all', scout), event, NEAR);
    expect(readFrame(texts[0]!.toLowerCase(), event)).toEqual(readFrame(texts[0]!, event));
  });

  it('keep no more than four bundles half read', async () => {
    const collector = new Collector(event);
    const ids: string[] = [];
    for (let n = 0; n < 6; n++) {
      const { bundle, texts } = await frames(
        await seal(content(900, random(n + 1)), event, 'all', scout),
        event,
        NEAR
      );
      collector.add(texts[0]!);
      ids.push(bundle);
    }
    expect(ids.map((id) => collector.missing(id).total > 0)).toEqual([false, false, true, true, true, true]);
  });

  it('whatever is put in, nothing but a sentence comes out', async () => {
    const { texts } = await frames(await seal(content(900), event, 'all', scout), event, NEAR);
    const next = random(11);
    const alphabet = '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:äx\n';
    const letter = () => alphabet[Math.floor(next() * alphabet.length)]!;
    for (let n = 0; n < 1000; n++) {
      const letters = [...texts[n % texts.length]!];
      for (let k = 0; k <= next() * 4; k++) letters[Math.floor(next() * letters.length)] = letter();
      const text =
        next() < 0.3 ? letters.slice(0, Math.floor(next() * letters.length)).join('') : letters.join('');
      try {
        const frame = readFrame(text, event);
        expect(texts).toContain(encode(decode(text.toUpperCase())!)); // it was not changed after all
        expect(frame.total).toBe(texts.length);
      } catch (error) {
        expect(error).toBeInstanceOf(Told);
      }
    }
  });
});

describe('a file', () => {
  it('holds the same bundle', async () => {
    const sealed = await seal(content(3000), event, 'all', scout);
    const { bundle } = await frames(sealed, event, NEAR);
    expect(await readCarryFile(asCarryFile(sealed, event), event)).toEqual({ sealed, bundle });
  });

  it('holds it as text too, with or without a new line behind it', async () => {
    for (let size = 1; size <= 20; size++) {
      const sealed = await seal(content(size, random(size)), event, 'all', scout);
      for (const end of ['', '\n', '\r\n']) {
        const file = new TextEncoder().encode(asCarryText(sealed, event) + end);
        expect((await readCarryFile(file, event)).sealed).toEqual(sealed);
      }
    }
  });

  it.each([
    ['something else', (file: Uint8Array<ArrayBuffer>) => file.slice(1), 'This file is not one'],
    ['another text', () => new TextEncoder().encode('HELLO'), 'This file is not one'],
    [
      'a text that was cut',
      (file: Uint8Array<ArrayBuffer>) => new TextEncoder().encode(encode(file).slice(0, 12)),
      'This was damaged'
    ],
    ['one that ends early', (file: Uint8Array<ArrayBuffer>) => file.slice(0, 8), 'This was damaged'],
    ['another event’s', (file: Uint8Array<ArrayBuffer>) => file.with(5, 0), 'This file is of another event']
  ])('says what is wrong with %s', async (_, change, said) => {
    const file = asCarryFile(await seal(1, event, 'all', scout), event);
    expect(await why(() => readCarryFile(change(file), event))).toContain(said);
  });
});

describe('a receipt', () => {
  it('follows from the bundle and the key (HMAC of OpenSSL), and is read as people type it', async () => {
    const mac = createHmac('sha256', Buffer.alloc(32, 1)).update('receipt 01ab34ef').digest();
    const letters = '23456789ABCDEFGHJKLMNPQRSTUVWXYZ';
    const text = await receipt('01ab34ef', scout);
    expect(text.replace('-', '')).toBe([...mac.subarray(0, 8)].map((b) => letters[b & 31]).join(''));
    expect(await receipt('01ab34ef', lead)).toBe(text);
    expect(await receipt('01ab34ee', lead)).not.toBe(text);
    for (const typed of [text, text.toLowerCase(), ` ${text.replace('-', ' ')} `, text.replace('-', '')])
      expect(readReceipt(typed)).toBe(text);
    for (const typed of ['', 'ABC', `${text}A`, 'AAAA-AAA0']) expect(readReceipt(typed)).toBeUndefined();
  });
});

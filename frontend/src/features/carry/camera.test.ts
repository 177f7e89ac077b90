import { describe, expect, it } from 'vitest';
import { brightness, sayLook, sayNoCamera } from './camera';

describe('sayNoCamera', () => {
  // Names of errors: W3C Media Capture and Streams, section 10.3 (getUserMedia).
  it.each([
    ['NotAllowedError', true, 'The camera is not allowed here'],
    ['NotFoundError', true, 'This device has no camera'],
    ['NotReadableError', true, 'The camera is busy'],
    ['TypeError', true, 'The camera did not start'],
    ['TypeError', false, 'This address is not secure']
  ])('%s, secure %s', (name, secure, said) => {
    const words = sayNoCamera(new DOMException('', name), secure);
    expect(words).toContain(said);
    expect(words).toContain('a file (below), or a barcode reader');
  });
});

describe('sayLook', () => {
  it.each([
    [500, 5, ''],
    [5_000, 120, 'No code seen'],
    [20_000, 120, 'Still no code'],
    [5_000, 10, 'It is too dark']
  ])('after %d ms with light %d', (ms, light, said) => {
    if (said) expect(sayLook(ms, light)).toContain(said);
    else expect(sayLook(ms, light)).toBe('');
  });
});

describe('brightness', () => {
  it.each([0, 90, 255])('of an even grey %d is that', (grey) =>
    expect(brightness({ data: new Uint8ClampedArray(4 * 1000).fill(grey) as ImageData['data'] })).toBeCloseTo(
      grey
    )
  );
});

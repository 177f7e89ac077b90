import { cleanup, render, screen } from '@testing-library/svelte';
import jsQR from 'jsqr';
import { afterEach, describe, expect, it } from 'vitest';
import QrCode from './QrCode.svelte';

afterEach(cleanup);

/** The picture that the path draws, at `scale` pixels a module, as a camera would hand it on. */
function picture(svg: Element, scale: number): { data: Uint8ClampedArray; size: number } {
  const modules = Number(svg.getAttribute('viewBox')!.split(' ')[2]);
  const size = modules * scale;
  const data = new Uint8ClampedArray(size * size * 4).fill(255);
  for (const [, x, y, w] of svg
    .querySelector('path')!
    .getAttribute('d')!
    .matchAll(/M(\d+) (\d+)h(\d+)v1H\d+z/g)) {
    for (let py = Number(y) * scale; py < (Number(y) + 1) * scale; py++)
      for (let px = Number(x) * scale; px < (Number(x) + Number(w)) * scale; px++)
        data.fill(0, (py * size + px) * 4, (py * size + px) * 4 + 3);
  }
  return { data, size };
}

describe('QrCode', () => {
  // Read back by another library than the one that wrote it.
  it.each([
    'https://sextant-hall.local:4180/join#K7QX-M2PD',
    'https://a-rather-long-name-for-a-laptop.robotics.example:44380/join#ABCD-EFGH'
  ])('is read back as %s', (text) => {
    render(QrCode, { text, label: 'Join link' });
    const { data, size } = picture(screen.getByRole('img', { name: 'Join link' }), 4);
    expect(jsQR(data, size, size)?.data).toBe(text);
  });

  it('keeps four light modules around itself (ISO/IEC 18004, quiet zone)', () => {
    render(QrCode, { text: 'x', label: 'x' });
    const { data, size } = picture(screen.getByRole('img'), 1);
    const dark = (x: number, y: number) => data[(y * size + x) * 4] === 0;
    expect(dark(4, 4)).toBe(true); // the corner of the first finder pattern
    for (let i = 0; i < size; i++)
      for (let k = 0; k < 4; k++)
        expect([dark(i, k), dark(k, i), dark(i, size - 1 - k), dark(size - 1 - k, i)]).not.toContain(true);
  });
});

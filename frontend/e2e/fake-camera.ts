/** A camera that shows what another device shows: the codes of a page as a film, for Chromium's fake capture device. */
import { chromium, expect, type Browser, type Locator, type Page } from '@playwright/test';
import jsQR from 'jsqr';
import { writeFileSync } from 'node:fs';

/** A code as modules: true is dark. */
type Code = boolean[][];

/** All codes of the loop that a page shows, read off the page one by one. */
export async function codesOf(page: Page): Promise<Code[]> {
  const hold = page.getByRole('button', { name: 'Hold', exact: true });
  const codes: Code[] = [];
  const image = page.getByRole('img', { name: /^Code \d+ of \d+$/ });
  await expect(image).toBeVisible();
  if (!(await hold.isVisible())) return [await codeOf(image)]; // one code alone
  await hold.click();
  const total = Number((await image.getAttribute('aria-label'))?.split(' ').at(-1));
  const first = Number((await image.getAttribute('aria-label'))?.split(' ')[1]);
  for (let i = 0; i < total; i++) {
    codes[(first - 1 + i) % total] = await codeOf(image);
    await page.getByRole('button', { name: 'Next code' }).click();
    await expect(image).toHaveAccessibleName(`Code ${((first + i) % total) + 1} of ${total}`);
  }
  return codes;
}

/** One code as it is drawn on a page. */
export async function codeOf(svg: Locator): Promise<Code> {
  const size = Number((await svg.getAttribute('viewBox'))?.split(' ')[2]);
  const code = Array.from({ length: size }, () => Array<boolean>(size).fill(false));
  const path = (await svg.locator('path').getAttribute('d')) ?? '';
  for (const [, x, y, w] of path.matchAll(/M(\d+) (\d+)h(\d+)v1H\d+z/g))
    code[Number(y)]?.fill(true, Number(x), Number(x) + Number(w));
  return code;
}

/** What stands in a code, read by another library than the app's. */
export function textOf(code: Code): string {
  const scale = 4;
  const size = code.length * scale;
  const data = new Uint8ClampedArray(size * size * 4);
  for (let i = 0; i < size * size; i++) {
    const dark = code[Math.floor(i / size / scale)]?.[Math.floor((i % size) / scale)];
    data.set(dark ? [0, 0, 0, 255] : [255, 255, 255, 255], i * 4);
  }
  return jsQR(data, size, size)?.data ?? '';
}

const [W, H] = [1280, 720];

/**
 * Writes the codes as a film, a third of a second each. A camera that is started
 * reads the file anew: between two starts the film may be another one.
 */
export function film(path: string, codes: Code[]): void {
  const pictures = codes.map((code) => {
    const scale = Math.floor((H * 0.9) / code.length);
    const [left, top] = [(W - code.length * scale) >> 1, (H - code.length * scale) >> 1];
    const picture = grey(128);
    code.forEach((row, y) => {
      row.forEach((dark, x) => {
        for (let k = 0; k < scale; k++) {
          const from = (top + y * scale + k) * W + left + x * scale;
          picture.fill(dark ? 20 : 235, from, from + scale);
        }
      });
    });
    return picture;
  });
  write(path, pictures);
}

/** Writes a film in which there is nothing but light: 16 is black, 235 is white. */
export const emptyFilm = (path: string, light: number): void => write(path, [grey(light)]);

/** A picture of one brightness and no colour. */
function grey(light: number): Buffer {
  return Buffer.alloc((W * H * 3) / 2, 128).fill(light, 0, W * H);
}

/** YUV4MPEG2, three pictures a second. */
function write(path: string, pictures: Buffer[]): void {
  const head = Buffer.from(`YUV4MPEG2 W${W} H${H} F3:1 Ip A1:1 C420jpeg\n`);
  writeFileSync(path, Buffer.concat([head, ...pictures.flatMap((p) => [Buffer.from('FRAME\n'), p])]));
}

/**
 * A browser in which the cameras of all devices see the film, over and over; without
 * a film there is no camera. With `asks` a page may use it only if its context has the
 * permission, otherwise each may.
 */
export function browserWith(
  path: string,
  like: { executablePath?: string; args?: string[] },
  asks = false
): Promise<Browser> {
  return chromium.launch({
    ...like,
    // A shell without windows has nobody to ask.
    ...(asks && { executablePath: '/usr/bin/chromium' }),
    args: [
      ...(like.args ?? []),
      '--use-fake-device-for-media-stream',
      ...(asks ? [] : ['--use-fake-ui-for-media-stream']),
      `--use-file-for-fake-video-capture=${path}`
    ]
  });
}

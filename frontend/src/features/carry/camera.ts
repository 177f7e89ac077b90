// What can go wrong with a camera, said with the next best way.

const OTHERWISE = 'Or take the other way: a file (below), or a barcode reader that types.';

/** Why there is no picture, and what to do. */
export function sayNoCamera(error: unknown, secure: boolean): string {
  if (!secure)
    return `This address is not secure (no https), so the browser gives no camera. Open the app under its https address. ${OTHERWISE}`;
  switch (error instanceof Error || error instanceof DOMException ? error.name : '') {
    case 'NotAllowedError':
    case 'SecurityError':
      return `The camera is not allowed here. Allow it for this site in the browser’s settings (the sign beside the address), then start it again. ${OTHERWISE}`;
    case 'NotFoundError':
    case 'OverconstrainedError':
      return `This device has no camera that the browser can use. ${OTHERWISE}`;
    case 'NotReadableError':
    case 'AbortError':
      return `The camera is busy: close what else uses it, then start it again. ${OTHERWISE}`;
  }
  return `The camera did not start. Start it again. ${OTHERWISE}`;
}

/** Mean brightness of a picture, 0 to 255, by every 97th of its points (ITU-R BT.601 luma). */
export function brightness({ data }: Pick<ImageData, 'data'>): number {
  let sum = 0;
  let n = 0;
  for (let i = 0; i + 2 < data.length; i += 4 * 97, n++)
    sum += 0.299 * data[i]! + 0.587 * data[i + 1]! + 0.114 * data[i + 2]!;
  return n === 0 ? 0 : sum / n;
}

/** Below this even a bright screen in the picture is too dark to read: common practice, no source. */
const DARK = 35;

/** What helps when nothing was read for a while; empty: all is well. */
export function sayLook(quietMs: number, light: number): string {
  if (quietMs < 4_000) return '';
  if (light < DARK)
    return 'It is too dark to read. Turn the other screen to its brightest and wipe the lens; or take a file.';
  if (quietMs < 9_000)
    return 'No code seen. Hold the camera so that the whole code with its white edge fills the frame.';
  return 'Still no code. Go nearer, tilt less and keep reflections off the glass; let the other device choose “From further away”; or take a file.';
}

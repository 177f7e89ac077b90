/** Makes a photo small enough to carry: at most so many pixels a side, and about so many bytes. */
const SIDE_PX = 1280;
const ENOUGH_BYTES = 200_000;
const QUALITIES = [0.85, 0.7, 0.55, 0.4];

/** Width and height of a picture made to fit, never larger than it was. */
export function fit(width: number, height: number, side = SIDE_PX): [number, number] {
  const scale = Math.min(1, side / Math.max(width, height));
  return [Math.max(1, Math.round(width * scale)), Math.max(1, Math.round(height * scale))];
}

/**
 * The photo drawn anew as a small JPEG, turned as the camera meant it. Nothing
 * that the camera wrote beside the picture (place, time, device) is in it.
 */
export async function shrink(file: Blob): Promise<Blob> {
  let bitmap: ImageBitmap;
  try {
    bitmap = await createImageBitmap(file, { imageOrientation: 'from-image' });
  } catch {
    throw new Error(
      'This file is no picture that this browser can read. Take a photo, or choose a JPEG or PNG.'
    );
  }
  const [width, height] = fit(bitmap.width, bitmap.height);
  const canvas = document.createElement('canvas');
  canvas.width = width;
  canvas.height = height;
  const pen = canvas.getContext('2d');
  if (!pen) throw new Error('This browser cannot draw, so the photo could not be made smaller.');
  pen.fillStyle = '#fff'; // a drawing may have no ground
  pen.fillRect(0, 0, width, height);
  pen.drawImage(bitmap, 0, 0, width, height);
  bitmap.close();
  let last: Blob | null = null;
  for (const quality of QUALITIES) {
    last = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/jpeg', quality));
    if (last && last.size <= ENOUGH_BYTES) break;
  }
  if (!last) throw new Error('The photo could not be made smaller.');
  return last;
}

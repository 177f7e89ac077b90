/** Finds codes in pictures. Loaded with the camera, not before: it brings its own program of a megabyte, which we serve. */
import { prepareZXingModule, readBarcodes } from 'zxing-wasm/reader';
import wasm from 'zxing-wasm/reader/zxing_reader.wasm?url';

/** Makes the reader ready; without this the library would fetch its program from elsewhere. */
export async function prepare(): Promise<void> {
  await prepareZXingModule({ overrides: { locateFile: () => wasm }, fireImmediately: true });
}

/** The texts of the codes in a picture. */
export async function read(image: ImageData): Promise<string[]> {
  const found = await readBarcodes(image, { formats: ['QRCode'], maxNumberOfSymbols: 2 });
  return found.filter((r) => r.isValid).map((r) => r.text);
}

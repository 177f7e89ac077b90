/** Bundles that travel without a network: sealed, cut into codes or saved as a file, and taken in again. */
export { accept, home, out, partsFor, type Content, type Home, type Out, type Part } from './content';
export {
  asCarryFile,
  asCarryText,
  Collector,
  FAR,
  frames,
  NEAR,
  readCarryFile,
  readFrame,
  type Frame
} from './frames';
export { audienceOf, readReceipt, receipt, seal, unseal, type Audience, type Keys } from './seal';

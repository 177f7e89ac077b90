/** Bundles that travel without a network: sealed, cut into codes or saved as a file, and taken in again. */
export { home, out, partsFor, receive, type Content, type Home, type Out, type Part } from './content';
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
export { readReceipt, receipt, seal, type Audience, type Keys } from './seal';
export { sign } from './sign';

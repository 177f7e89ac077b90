/** The local database and its way to the server. */
export {
  database,
  meta,
  setMeta,
  open,
  type Bundle,
  type BundleName,
  type DB,
  type LocalRevision,
  type PageName,
  type StoredRecord,
  type Unsent
} from './db';
export {
  debriefId,
  entryId,
  judgementId,
  newId,
  observationId,
  pinId,
  playoffId,
  pitId,
  resultId,
  rotaId,
  seatId,
  sketchId
} from './ids';
export { isMerged, resolve, rivals, same, seenBy, type Resolved } from './resolve';
export { asFile, save, settle, takeIn, tryAgain, unsent, type Change, type Person } from './outbox';
export { blobOf, keepBlob, sendBlobs, unsentBlobs } from './blobs';
export { due, everyday, kept, refresh, type Refreshed } from './bundle';
export { Sync, type Link, type Status } from './sync';
export { fromFile, type FromFile } from './file';
export { handOver, takeOver, type Thing } from './carried';
export { draft, drafts, dropDraft, keepDraft, keepDraftAtOnce } from './drafts';
export { listen } from './live';
export { announce, onChange } from './notify';
export { sayUnsent } from './words';
export { askToKeep, countMe, sayFull, saySpace, space, type Space } from './storage';

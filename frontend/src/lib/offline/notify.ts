/**
 * Tells every tab of this browser that the local database changed. Listeners
 * read again; nothing but names travels.
 */
export interface Change {
  event: string;
  /** Kinds of records that changed. */
  kinds?: string[];
  /** Ids of these records; absent: any of the kinds. */
  records?: string[];
  /** Things that were fetched whole and changed. */
  bundles?: string[];
  /** The outbox changed. */
  outbox?: boolean;
  /** Something did not fit on the disk. */
  full?: boolean;
  /** The server has finished an analysis. */
  analysed?: Analysed;
}

/** What the server has finished, and when this browser heard of it (milliseconds of this device's clock). */
export interface Analysed {
  /** Absent: it did not say. */
  what?: string;
  heard: number;
}

type Listener = (change: Change) => void;

const listeners = new Set<Listener>();
let channel: BroadcastChannel | undefined;

function open(): BroadcastChannel | undefined {
  if (!channel && typeof BroadcastChannel !== 'undefined') {
    channel = new BroadcastChannel('sextant');
    channel.onmessage = (message: MessageEvent<Change>) => tell(message.data);
  }
  return channel;
}

function tell(change: Change): void {
  for (const listener of [...listeners]) listener(change);
}

/** Tells this tab and all others. */
export function announce(change: Change): void {
  tell(change);
  open()?.postMessage(change);
}

/** Calls the listener at each change, of any tab; returns the way to stop. */
export function onChange(listener: Listener): () => void {
  open();
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** How safely this browser keeps what was recorded, and what to say about it. */

import { Told } from '../api';

export interface Space {
  /** The browser promised not to throw anything away; undefined: it does not say. */
  kept?: boolean;
  /** Bytes that the app takes, and that it may take; undefined: the browser does not say. */
  used?: number;
  quota?: number;
  /** How many tabs and windows have the app open; undefined: the browser does not say. */
  tabs?: number;
}

/** Below this a day of records with their times may not fit. */
const LITTLE = 50e6;
const TAB = 'sextant-tab';

/** Marks this tab as open as long as it lives. */
export function countMe(): void {
  void globalThis.navigator?.locks
    ?.request(TAB, { mode: 'shared' }, () => new Promise<never>(() => undefined))
    .catch(() => undefined); // a browser that has no locks here does not count
}

export async function space(): Promise<Space> {
  const { storage, locks } = navigator;
  const [kept, estimate, held] = await Promise.all([
    storage?.persisted?.().catch(() => undefined),
    storage?.estimate?.().catch(() => undefined),
    locks?.query().catch(() => undefined)
  ]);
  return {
    kept,
    used: estimate?.usage,
    quota: estimate?.quota,
    tabs: held?.held?.filter((l) => l.name === TAB).length
  };
}

/** Asks that nothing is thrown away when the disk runs short; some browsers ask the person, some decide alone. */
export async function askToKeep(): Promise<boolean> {
  return (await navigator.storage?.persist?.().catch(() => false)) ?? false;
}

export interface Remark {
  text: string;
  /** Somebody should do something. */
  warn: boolean;
}

/** The state of this browser's storage in sentences, the most pressing first. */
export function saySpace(s: Space): Remark[] {
  const out: Remark[] = [];
  const free = s.quota !== undefined && s.used !== undefined ? Math.max(0, s.quota - s.used) : undefined;
  if (free !== undefined && free < LITTLE) {
    out.push({
      warn: true,
      text: `Only ${size(free)} are left for records on this device. Delete photos or downloads that nobody needs. Nothing that was recorded is thrown away.`
    });
  }
  if (s.tabs !== undefined && s.tabs > 1) {
    out.push({
      warn: true,
      text: `Sextant is open ${s.tabs} times in this browser. They share all records; watch a robot in one of them only.`
    });
  }
  if (s.kept) {
    out.push({ warn: false, text: 'The browser keeps what you record until you remove the app.' });
  } else {
    out.push({
      warn: s.kept === false,
      text: `The browser ${s.kept === false ? 'has not promised' : 'does not say whether it promises'} to keep unsent records when the disk runs short. Put the app on the home screen, and send whenever there is a network. In a private window everything is gone once it is closed.`
    });
  }
  if (free !== undefined && free >= LITTLE) {
    out.push({
      warn: false,
      text: `Sextant takes ${size(s.used ?? 0)} here; ${size(free)} more are free for it.`
    });
  }
  return out;
}

/** "12 MB", "1.2 GB". */
export function size(bytes: number): string {
  if (bytes < 1e6) return bytes < 1e5 ? 'less than 0.1 MB' : `${(bytes / 1e6).toFixed(1)} MB`;
  if (bytes < 1e9) return `${Math.round(bytes / 1e6)} MB`;
  return `${(bytes / 1e9).toFixed(bytes < 1e10 ? 1 : 0)} GB`;
}

const named = (error: unknown, name: string): boolean =>
  [error, (error as Error | undefined)?.cause].some(
    (e) => (e as { name?: unknown } | undefined)?.name === name
  );

/** The disk is full, or the browser gives this app no more of it (QuotaExceededError of the Indexed Database API). */
export const isFull = (error: unknown): boolean => named(error, 'QuotaExceededError');

/** What a full disk means to people. */
export const sayFull = (): string =>
  'The disk of this device is full, or the browser gives this app no more of it. Delete photos or downloads that nobody needs, then save again. What was saved before is safe.';

/** What the database's own errors mean to people; any other error stays as it is. */
export function inWords(error: unknown): unknown {
  if (isFull(error)) {
    return new Told(sayFull(), { cause: error });
  }
  if (named(error, 'VersionError')) {
    return new Told(
      'A newer version of Sextant has kept records in this browser, and this one cannot read them. Everything that was recorded is still there: load the app again while there is a network.',
      { cause: error }
    );
  }
  return error;
}

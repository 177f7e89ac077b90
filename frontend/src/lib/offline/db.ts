/**
 * The browser's database: one per origin, no person in its name, so that what
 * one scout recorded on a shared tablet is not stranded when another takes over.
 */
import { openDB, type DBSchema, type IDBPDatabase } from 'idb';
import type { Revision } from '../api/types';
import { inWords } from './storage';

/**
 * A revision; `member` says who sends it if it came to the server from this
 * device, `letIn` that somebody else made it.
 */
export type LocalRevision = Revision & { member?: string; letIn?: boolean };

export interface StoredRecord {
  event: string;
  record_id: string;
  kind: string;
  revisions: LocalRevision[];
  head: string;
  heads: string[];
  conflict: boolean;
  disputed: string[];
  /** What counts, merged. */
  body: Record<string, unknown>;
}

/** A revision that has not come back from the server's feed yet. */
export interface Unsent {
  revision_id: string;
  event: string;
  record_id: string;
  /** The member who made it: only that person's session may send it. */
  member: string;
  revision: Revision;
  queued_at: string;
  /** Why the server refused it; such an entry waits for a person. */
  refused?: string;
  /**
   * The server said that it has it. It is kept until the feed shows it all the
   * same: a server that comes back from an older back-up has lost it again.
   */
  stored?: boolean;
  /** Somebody else made it, and a lead brings it in: it keeps its author. */
  letIn?: boolean;
  /** This device was signed out; the server keeps it apart until a lead accepts it. */
  apart?: boolean;
  /** When a lead's device said that it has it, by a receipt: it waits for the server all the same. */
  handed?: string;
  /** How often the feed did not show it although the server said so. */
  missed?: number;
}

/** Things of an event that are fetched whole. */
export type BundleName =
  'event' | 'game' | 'teams' | 'schedule' | 'keys' | 'estimates' | 'forecasts' | 'judgements';
/** What one screen asks for and keeps: the name says of what. */
export type PageName =
  | 'calibration'
  | 'knowledge'
  | 'photos'
  | 'truth'
  | `brief/${string}`
  | 'bracket'
  | `playing/${string}`
  | `standings/${number}`
  | `forecast/${string}`
  | 'estimates/earlier';
export interface Bundle {
  event: string;
  name: BundleName | PageName;
  value: unknown;
  etag?: string;
  /** The feed said that it changed since. */
  stale?: boolean;
  at: string;
  /** When it was asked for, in milliseconds of this device's clock; older copies have none. */
  asked?: number;
}

export interface FeedPosition {
  event: string;
  after: number;
  /** Highest Lamport number seen or given. */
  lamport: number;
}

/** A picture. `unsent` is its event as long as the server does not have it. */
export interface KeptBlob {
  event: string;
  sha256: string;
  media: string;
  bytes: ArrayBuffer;
  unsent?: string;
  /** Why the server did not take it. */
  refused?: string;
}

interface Schema extends DBSchema {
  records: { key: [string, string]; value: StoredRecord; indexes: { kind: [string, string] } };
  outbox: { key: string; value: Unsent; indexes: { event: string } };
  feed: { key: string; value: FeedPosition };
  bundle: { key: [string, string]; value: Bundle };
  meta: { key: string; value: unknown };
  blobs: { key: [string, string]; value: KeptBlob; indexes: { unsent: string } };
}

export type DB = IDBPDatabase<Schema>;

const VERSION = 2;

export async function open(name = 'sextant'): Promise<DB> {
  return openDB<Schema>(name, VERSION, {
    upgrade(db, from) {
      if (from < 1) {
        db.createObjectStore('records', { keyPath: ['event', 'record_id'] }).createIndex('kind', [
          'event',
          'kind'
        ]);
        db.createObjectStore('outbox', { keyPath: 'revision_id' }).createIndex('event', 'event');
        db.createObjectStore('feed', { keyPath: 'event' });
        db.createObjectStore('bundle', { keyPath: ['event', 'name'] });
        db.createObjectStore('meta');
      }
      if (from < 2) {
        db.createObjectStore('blobs', { keyPath: ['event', 'sha256'] }).createIndex('unsent', 'unsent');
      }
    },
    // Another tab wants to upgrade: let it, the next read opens again.
    blocking(_current, _blocked, event) {
      (event.target as IDBDatabase).close();
      if (shared?.name === name) shared = undefined;
    },
    terminated() {
      if (shared?.name === name) shared = undefined;
    }
  }).catch((error: unknown) => {
    throw inWords(error);
  });
}

let shared: { name: string; db: Promise<DB> } | undefined;

/** The database of this origin, opened once. */
export function database(): Promise<DB> {
  if (!shared) {
    const name = 'sextant';
    const db = open(name);
    shared = { name, db };
    db.catch(() => {
      shared = undefined;
    });
  }
  return shared.db;
}

/** A small value by name; undefined when it was never set. */
export async function meta<T>(key: string): Promise<T | undefined> {
  return (await (await database()).get('meta', key)) as T | undefined;
}

export async function setMeta(key: string, value: unknown): Promise<void> {
  const db = await database();
  await (value === undefined ? db.delete('meta', key) : db.put('meta', value, key));
}

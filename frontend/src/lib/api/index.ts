/** The only door to the server. */
import { address, ask, call, file, lines } from './client';
import type {
  AdviceLine,
  AdviseRequest,
  BriefQuery,
  Match,
  RotaBody,
  SentRevision,
  Team,
  WhatIfRequest
} from './types';

export * from './types';
export { NoAnswer, Problem, sayError, sayPlace, Told } from './problem';
export type { Answer } from './client';

/** The sync protocol that this app speaks. */
export const PROTOCOL = 1;

/** A table or a file as the person gave it. */
export interface Given {
  text: string | Blob;
  type: 'text/csv' | 'application/json' | 'application/x-ndjson';
}

type Tables = 'teams' | 'matches' | 'observations' | 'marks' | 'picklist';

export const session = {
  read: () => ask('get', '/api/session', { timeout: 8_000 }),
  signIn: (name: string, password: string) => ask('post', '/api/session', { json: { name, password } }),
  join: (code: string, nickname: string, device: string) =>
    ask('post', '/api/session', { json: { code, nickname, device } }),
  end: () => call('delete', '/api/session')
};

export const setUp = (secret: string, name: string, password: string) =>
  ask('post', '/api/setup', { json: { secret, name, password } });

export const events = {
  all: async () => (await ask('get', '/api/events')).events,
  create: (event: { name: string; zone: string; our_team?: string; game: unknown; nickname?: string }) =>
    ask('post', '/api/events', { json: event }),
  read: (event: string, etag?: string) => call('get', '/api/events/{event}', { path: { event }, etag }),
  keys: (event: string) => call('get', '/api/events/{event}/keys', { path: { event } }),
  change: (event: string, patch: { name?: string; zone?: string; our_team?: string; overrides?: unknown }) =>
    ask('patch', '/api/events/{event}', { path: { event }, json: patch })
};

export const game = {
  /** The game of the event, the event's own settings applied. */
  read: (event: string, etag?: string) => call('get', '/api/events/{event}/game', { path: { event }, etag }),
  preview: (event: string, file: string) =>
    ask('put', '/api/events/{event}/game', {
      path: { event },
      query: { preview: true },
      raw: { text: file, type: 'application/json' }
    }),
  put: (event: string, file: string) =>
    ask('put', '/api/events/{event}/game', { path: { event }, raw: { text: file, type: 'application/json' } })
};

export const teams = {
  read: async (event: string, etag?: string) => {
    const answer = await call('get', '/api/events/{event}/teams', { path: { event }, etag });
    return { ...answer, value: answer.value?.teams };
  },
  preview: (event: string, raw: Given) =>
    ask('put', '/api/events/{event}/teams', { path: { event }, query: { preview: true }, raw }),
  put: (event: string, raw: Given, ifMatch?: string) =>
    ask('put', '/api/events/{event}/teams', { path: { event }, raw, ifMatch }),
  putAll: (event: string, list: Team[], ifMatch?: string) =>
    ask('put', '/api/events/{event}/teams', { path: { event }, json: { teams: list }, ifMatch })
};

export const matches = {
  read: async (event: string, etag?: string) => {
    const answer = await call('get', '/api/events/{event}/matches', { path: { event }, etag });
    return { ...answer, value: answer.value?.matches };
  },
  preview: (event: string, raw: Given) =>
    ask('put', '/api/events/{event}/matches', { path: { event }, query: { preview: true }, raw }),
  put: (event: string, raw: Given, ifMatch?: string) =>
    ask('put', '/api/events/{event}/matches', { path: { event }, raw, ifMatch }),
  putAll: (event: string, list: Match[], ifMatch?: string) =>
    ask('put', '/api/events/{event}/matches', { path: { event }, json: { matches: list }, ifMatch })
};

/** What an earlier event of the season found. */
export const prior = {
  read: (event: string) => ask('get', '/api/events/{event}/prior', { path: { event } }),
  put: (event: string, text: string) =>
    ask('put', '/api/events/{event}/prior', { path: { event }, raw: { text, type: 'application/json' } }),
  drop: (event: string) => call('delete', '/api/events/{event}/prior', { path: { event } })
};

export const codes = {
  all: async (event: string) => (await ask('get', '/api/events/{event}/codes', { path: { event } })).codes,
  make: (
    event: string,
    code: { role: 'lead' | 'coach' | 'scout'; label?: string; hours: number; uses?: number }
  ) => ask('post', '/api/events/{event}/codes', { path: { event }, json: code }),
  revoke: (event: string, code: string) =>
    call('delete', '/api/events/{event}/codes/{code}', { path: { event, code } })
};

export const members = {
  all: async (event: string) =>
    (await ask('get', '/api/events/{event}/members', { path: { event } })).members,
  rename: (event: string, member: string, nickname: string) =>
    ask('patch', '/api/events/{event}/members/{member}', { path: { event, member }, json: { nickname } }),
  remove: (event: string, member: string) =>
    call('delete', '/api/events/{event}/members/{member}', { path: { event, member } })
};

/** What came from devices after they were signed out. */
export const held = {
  all: async (event: string) => (await ask('get', '/api/events/{event}/held', { path: { event } })).items,
  throwAway: (event: string, device: string) =>
    call('delete', '/api/events/{event}/held', { path: { event }, query: { device } })
};

export const sync = {
  send: (event: string, device: string, items: SentRevision[]) =>
    ask('post', '/api/events/{event}/sync', {
      path: { event },
      raw: { text: JSON.stringify({ protocol: PROTOCOL, device, items }), type: 'application/json' }
    }),
  read: (event: string, after: number, limit: number) =>
    ask('get', '/api/events/{event}/sync', { path: { event }, query: { after, limit } })
};

/** Pictures, by the SHA-256 of what a device has. */
export const blobs = {
  put: async (event: string, sha256: string, picture: Blob): Promise<void> => {
    await call('put', '/api/events/{event}/blobs/{sha256}', {
      path: { event, sha256 },
      raw: { text: picture, type: picture.type },
      timeout: 120_000
    });
  },
  /** One of each robot that has one. */
  all: async (event: string, etag?: string) => {
    const answer = await call('get', '/api/events/{event}/photos', { path: { event }, etag });
    return { ...answer, value: answer.value && { current: true, photos: answer.value.photos } };
  },
  read: (event: string, sha256: string) => file('/api/events/{event}/blobs/{sha256}', { event, sha256 })
};

export const records = {
  /** All revisions of a record as the server keeps them, with when each arrived. */
  revisions: async (event: string, record: string) =>
    (
      await ask('get', '/api/events/{event}/records/{record}/revisions', {
        path: { event, record },
        timeout: 8_000
      })
    ).revisions
};

export const analysis = {
  estimates: (event: string, etag?: string) =>
    call('get', '/api/events/{event}/estimates', { path: { event }, etag }),
  forecasts: (event: string, etag?: string) =>
    call('get', '/api/events/{event}/forecasts', { path: { event }, etag }),
  judgements: (event: string, etag?: string) =>
    call('get', '/api/events/{event}/judgements', { path: { event }, etag }),
  /** top: our goal, this place or better; 0: among the captains. */
  standings: (event: string, etag?: string, top = 0) =>
    call('get', '/api/events/{event}/standings', {
      path: { event },
      query: { top: top > 0 ? top : undefined },
      etag,
      timeout: 60_000
    }),
  /** Which records to doubt, what is missing, whom it is safe to pick; for a lead. */
  truth: (event: string, etag?: string) =>
    call('get', '/api/events/{event}/truth', { path: { event }, etag, timeout: 60_000 }),
  calibration: (event: string, etag?: string) =>
    call('get', '/api/events/{event}/calibration', { path: { event }, etag, timeout: 60_000 }),
  bracket: (event: string, etag?: string) =>
    call('get', '/api/events/{event}/bracket', { path: { event }, etag, timeout: 60_000 }),
  /** What a device needs to tell what calls are worth without the server. */
  knowledge: (event: string, etag?: string) =>
    call('get', '/api/events/{event}/selection/knowledge', { path: { event }, etag }),
  detail: (event: string, match: string, etag?: string) =>
    call('get', '/api/events/{event}/forecasts/{match}', { path: { event, match }, etag }),
  brief: (event: string, match: string, query: BriefQuery = {}, etag?: string, signal?: AbortSignal) =>
    call('get', '/api/events/{event}/brief/{match}', { path: { event, match }, query, etag, signal }),
  whatIf: (event: string, change: WhatIfRequest, signal: AbortSignal) =>
    ask('post', '/api/events/{event}/what-if', { path: { event }, json: change, signal })
};

/** How much each goal of a plan counts when nothing else is said. */
export const rotaGoals = (event: string) => ask('get', '/api/events/{event}/rota', { path: { event } });

/** Who should watch which robot; nothing is in force before records say so. */
export const planRota = (event: string, json: RotaBody & { from: string; keep?: number }) =>
  ask('post', '/api/events/{event}/rota', { path: { event }, json, timeout: 60_000 });

/** Advice on an alliance selection, refined while one looks. */
export const advise = (
  event: string,
  json: AdviseRequest,
  line: (value: AdviceLine) => void,
  signal?: AbortSignal
): Promise<void> => lines('/api/events/{event}/selection', { path: { event }, json, signal }, line);

/** The stream of change numbers (server-sent events). */
export const changesAddress = (event: string) => address('/api/events/{event}/changes', { event });

/** Where a file of the event is downloaded from; without a table, CSV is a ZIP of all. */
export const exportAddress = (event: string, form: 'csv' | 'ndjson', table?: string, list?: string) =>
  address('/api/events/{event}/export', { event }, { form, table, list });

export const transfer = {
  preview: (event: string, raw: Given, table?: Tables, name?: string) =>
    ask('post', '/api/events/{event}/import', {
      path: { event },
      query: { preview: true, table, name },
      raw,
      timeout: 120_000
    }),
  run: (event: string, raw: Given, table?: Tables, name?: string) =>
    ask('post', '/api/events/{event}/import', {
      path: { event },
      query: { table, name },
      raw,
      timeout: 120_000
    }),
  /** Makes an event of a whole event's file, with its ids, records and history. */
  restore: (raw: Given) => ask('post', '/api/restore', { raw, timeout: 120_000 })
};

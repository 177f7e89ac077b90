/** Records made by the app's own code, in the page's own database, without a tap for each. */
import type { Page } from '@playwright/test';
import { resolve } from 'node:path';
import { build, type Rolldown } from 'vite';

let code: Promise<string> | undefined;

/** The app's local database and its save, as a script. */
function bundle(): Promise<string> {
  code ??= build({
    configFile: false,
    logLevel: 'silent',
    build: {
      write: false,
      lib: { entry: resolve('src/lib/offline/index.ts'), formats: ['iife'], name: 'offline' }
    }
  }).then((made) => {
    const [first] = [made].flat() as Rolldown.RolldownOutput[];
    const chunk = first?.output[0];
    if (chunk?.type !== 'chunk') throw new Error('the recorder was not built');
    return chunk.code;
  });
  return code;
}

export interface Recorded {
  revision_id: string;
  record_id: string;
  body: Record<string, unknown>;
}

/** Saves an observation of one robot in each of the matches, as whoever is joined on this page. */
export async function record(page: Page, path: string, matches: string[]): Promise<Recorded[]> {
  const event = path.replace('/e/', '');
  const work = async ([event, matches]: readonly [string, string[]]) => {
    const { open, save, observationId, announce, newId } = (
      globalThis as unknown as { offline: typeof import('../src/lib/offline') }
    ).offline;
    const db = await open();
    const person = (await db.get('bundle', [event, 'event']))?.value as import('../src/lib/offline').Person;
    const device = (await db.get('meta', 'device')) as string;
    const made: Recorded[] = [];
    for (const [i, match] of matches.entries()) {
      const body = {
        match,
        play: 1,
        team: '41',
        scout: person.nickname,
        counts: { sack: { made: i % 7, missed: i % 3 }, sack_high: { made: i % 2 } },
        choices: { ramp: { option: 'top', tried: false } },
        fouls: { push: i % 2 },
        note: `${newId()} ‹é, 水› "${'x'.repeat(i)}"`,
        taps: Array.from({ length: i % 7 }, (_, n): [number, string, number] => [n * 1500, 'sack', 1])
      };
      const recordId = observationId(event, match, 1, '41', person.nickname);
      const [r] = await save(db, event, person, device, [{ kind: 'observation', recordId, body }]);
      made.push({ revision_id: r!.revision_id, record_id: recordId, body: r!.body });
    }
    db.close();
    announce({ event, kinds: ['observation'], outbox: true });
    return made;
  };
  const script = `${await bundle()}; globalThis.offline = offline; (${work.toString()})(${JSON.stringify([event, matches])})`;
  return page.evaluate<Recorded[]>(script);
}

/** How many revisions wait on this page's device, of everybody. */
export const unsentOn = (page: Page): Promise<number> =>
  page.evaluate(
    () =>
      new Promise<number>((done, fail) => {
        const request = indexedDB.open('sextant');
        request.onerror = () => fail(new Error('no database'));
        request.onsuccess = () => {
          const count = request.result.transaction('outbox').objectStore('outbox').count();
          count.onsuccess = () => {
            request.result.close();
            done(count.result);
          };
        };
      })
  );

/** As when somebody takes the tablet up again: the app looks at once. */
export const takeUp = (page: Page): Promise<boolean> =>
  page.evaluate(() => window.dispatchEvent(new Event('focus')));

/** What the server answers, as the page itself gets it: only the browser knows a hall's name and authority. */
export const textOf = (page: Page, url: string): Promise<string> =>
  page.evaluate(async (url) => (await fetch(url, { cache: 'no-store' })).text(), url);

/** Everything that the server's feed has of observations, in order. */
export async function feedOf(lead: Page, path: string): Promise<Recorded[]> {
  const out: Recorded[] = [];
  for (let after = 0; ;) {
    const text = await textOf(lead, `/api${path.replace('/e/', '/events/')}/sync?after=${after}`);
    const page = JSON.parse(text) as { items: { revision?: Recorded & { kind: string } }[]; next: number };
    if (page.items.length === 0) return out;
    for (const { revision: r } of page.items) {
      if (r?.kind === 'observation')
        out.push({ revision_id: r.revision_id, record_id: r.record_id, body: r.body });
    }
    after = page.next;
  }
}

/** One line of text a revision, sorted: the same text is the same data, each once. */
export const asText = (all: Recorded[]): string[] => all.map((r) => JSON.stringify(sorted(r))).toSorted();

function sorted(v: unknown): unknown {
  if (Array.isArray(v)) return v.map(sorted);
  if (typeof v !== 'object' || v === null) return v;
  const members = Object.entries(v).toSorted(([a], [b]) => (a < b ? -1 : 1));
  return Object.fromEntries(members.map(([k, x]) => [k, sorted(x)]));
}

/** Records made by the app's own code, in the page's own database, without a tap for each. */
import { expect, type Page } from '@playwright/test';
import { resolve } from 'node:path';
import { build, type Rolldown } from 'vite';
import type { Revision } from '../src/lib/api';
import { apiOf } from './fixtures';

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

/** Saves an observation of each of the robots, `[match, team]`, as whoever is joined on this page. */
export async function record(
  page: Page,
  path: string,
  robots: (readonly [string, string])[]
): Promise<Revision[]> {
  const event = path.replace('/e/', '');
  const work = async ([event, robots]: readonly [string, (readonly [string, string])[]]) => {
    const { open, save, kept, observationId, announce, newId } = (
      globalThis as unknown as { offline: typeof import('../src/lib/offline') }
    ).offline;
    const db = await open();
    const person = await kept<import('../src/lib/offline').Person>(db, event, 'event');
    const game = await kept<import('../src/lib/game/types').Game>(db, event, 'game');
    const device = (await db.get('meta', 'device')) as string;
    const counted = game!.actions.filter((a) => a.kind === 'count' && a.by !== 'alliance');
    const choice = game!.actions.find((a) => a.kind === 'choice')!;
    const tapped = counted.at(-1)!.id;
    const made: Revision[] = [];
    for (const [i, [match, team]] of robots.entries()) {
      const { nickname: scout } = person!;
      const body = {
        match,
        play: 1,
        team,
        scout,
        counts: Object.fromEntries(
          counted.map((a) => [a.id, { made: i % 7, ...(a.misses && { missed: i % 3 }) }])
        ),
        choices: { [choice.id]: { option: choice.options!.at(-1)!.id } },
        fouls: { [game!.fouls![0]!.id]: i % 2 },
        note: `${newId()} ‹é, 水› "${'x'.repeat(i)}"`,
        taps: Array.from({ length: i % 7 }, (_, n): [number, string, number] => [n * 1500, tapped, 1])
      };
      const recordId = observationId(event, match, 1, team, scout);
      made.push(...(await save(db, event, person!, device, [{ kind: 'observation', recordId, body }])));
    }
    db.close();
    announce({ event, kinds: ['observation'], outbox: true });
    return made;
  };
  const script = `${await bundle()}; globalThis.offline = offline; (${work.toString()})(${JSON.stringify([event, robots])})`;
  return page.evaluate<Revision[]>(script);
}

/** What waits on this page's device, of everybody, as it stands in the database there. */
export const waitingOn = (page: Page): Promise<Revision[]> =>
  page.evaluate(
    () =>
      new Promise<Revision[]>((done, fail) => {
        const request = indexedDB.open('sextant');
        request.onerror = () => fail(new Error('no database'));
        request.onsuccess = () => {
          const all = request.result.transaction('outbox').objectStore('outbox').getAll();
          all.onsuccess = () => {
            request.result.close();
            done((all.result as { revision: Revision }[]).map((u) => u.revision));
          };
        };
      })
  );

/** How many revisions wait on this page's device, of everybody. */
export const unsentOn = async (page: Page): Promise<number> => (await waitingOn(page)).length;

/** Waits until nothing waits on this page's device any more. */
export const allSent = (page: Page, timeout = 15_000): Promise<void> =>
  expect
    .poll(
      async () => {
        await takeUp(page);
        return unsentOn(page);
      },
      { timeout }
    )
    .toBe(0);

/** As when somebody takes the tablet up again: the app looks at once. */
export const takeUp = (page: Page): Promise<boolean> =>
  page.evaluate(() => window.dispatchEvent(new Event('focus')));

/** What the server answers, as the page itself gets it: only the browser knows a hall's name and authority. */
export const textOf = (page: Page, url: string): Promise<string> =>
  page.evaluate(async (url) => (await fetch(url, { cache: 'no-store' })).text(), url);

/** Everything that the server's feed has of observations, in order. */
export async function feedOf(lead: Page, path: string): Promise<Revision[]> {
  const out: Revision[] = [];
  for (let after = 0; ;) {
    const text = await textOf(lead, `${apiOf(path)}/sync?after=${after}`);
    const page = JSON.parse(text) as { items: { revision?: Revision }[]; next: number };
    if (page.items.length === 0) return out;
    for (const { revision: r } of page.items) if (r?.kind === 'observation') out.push(r);
    after = page.next;
  }
}

/**
 * One line of text a revision, sorted: the same text is the same data, each once.
 * Of the time alone two spellings are the same: the server leaves out zeros at its end.
 */
export const asText = (all: Revision[]): string[] =>
  all.map((r) => JSON.stringify(sorted({ ...r, made_at: new Date(r.made_at).toISOString() }))).toSorted();

function sorted(v: unknown): unknown {
  if (Array.isArray(v)) return v.map(sorted);
  if (typeof v !== 'object' || v === null) return v;
  const members = Object.entries(v).toSorted(([a], [b]) => (a < b ? -1 : 1));
  return Object.fromEntries(members.map(([k, x]) => [k, sorted(x)]));
}

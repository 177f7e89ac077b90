import { cleanup, fireEvent, render, screen, within } from '@testing-library/svelte';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { Match, Observation } from '$lib/api';
import { gameFile } from '$lib/game/fixtures';
import { emptySheet } from '$lib/game/sheet';
import { nameOf } from '$lib/game/types';
import { draft, drafts } from '$lib/offline';
import type { EventState } from '$lib/state/event.svelte';
import Form from './Form.svelte';
import { draftKey, Watch } from './watch.svelte';

// Screens of a big game take a while in jsdom on a busy machine.
vi.setConfig({ testTimeout: 30_000 });
vi.mock('$app/navigation', () => ({ goto: vi.fn() }));

const PATIENT = { timeout: 10_000 };
const EVENT = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';

function open(file: string, team = '', status = {}) {
  const saved: Observation[] = [];
  const event = {
    id: EVENT,
    status: { link: 'no-answer', waiting: 2, refused: 0, others: [], ...status },
    save: vi.fn((change: { body: Observation }) => {
      saved.push(change.body);
      return Promise.resolve();
    })
  } as unknown as EventState;
  const watch = new Watch(event, gameFile(file), emptySheet('Q7', 1, team || '40117', 's03'));
  const alliance = (teams: string[]) => ({ teams, surrogates: [] });
  const planned = {
    match: 'Q7',
    play: 1,
    red: alliance(['40123', '40117', '40109']),
    blue: alliance(['40131', '40140', '40102'])
  } as unknown as Match;
  render(Form, { watch, planned: team ? planned : undefined, back: '/back' });
  return { watch, event, saved };
}
const button = (name: string | RegExp) => screen.getByRole('button', { name });
const tap = (name: string | RegExp) => fireEvent.click(button(name));
const later = (name: string | RegExp) => screen.findByRole('button', { name }, PATIENT);

beforeEach(() => {
  vi.useFakeTimers({ toFake: ['Date'], now: new Date('2031-03-06T09:00:00Z') });
});
afterEach(() => {
  cleanup();
  vi.useRealTimers();
});

describe('the form', () => {
  it.each(['slackwater.json', 'millrace.json', 'stonefield.json'])(
    'has a control for everything in %s',
    async (file) => {
      const { watch } = open(file);
      for (const page of watch.pages) {
        await tap(page.name);
        for (const action of watch.game.actions) {
          if (action.period && watch.game.periods.find((p) => p.id === action.period)?.id !== page.id)
            continue;
          const name = nameOf(action);
          if (action.kind === 'choice') {
            const group = within(screen.getByRole('group', { name }));
            for (const option of action.options ?? [])
              expect(group.getByRole('button', { name: nameOf(option) })).toBeTruthy();
            expect(Boolean(group.queryByRole('button', { name: 'Tried, failed' }))).toBe(
              Boolean(action.tried)
            );
          } else if (action.kind === 'volume') {
            for (const step of action.steps ?? []) expect(button(`${name} +${step}`)).toBeTruthy();
          } else {
            expect(screen.getAllByRole('button', { name: new RegExp(`^${name}`) }).length).toBeGreaterThan(0);
            if (action.misses) expect(button(new RegExp(`^${name} missed 0`))).toBeTruthy();
          }
        }
        for (const foul of watch.game.fouls ?? [])
          expect(button(new RegExp(`^${nameOf(foul)} 0`))).toBeTruthy();
      }
      await tap('Finish');
      for (const q of watch.game.questions ?? []) {
        const asked = screen.queryAllByText(nameOf(q)).length > 0;
        expect(asked, q.id).toBe(q.when === 'match' && q.kind !== 'best_worst');
      }
    }
  );

  it('starts the clock with the first tap, shows what was tapped and takes it back', async () => {
    const { watch } = open('slackwater.json');
    expect(button(/^Clock 2:33/)).toBeTruthy();
    await tap(/^Barrel on deck made/);
    expect(watch.sheet.started).toBe(Date.now());
    expect(await later(/^Clock 0:15 left/)).toBeTruthy();
    vi.setSystemTime(Date.now() + 4000);
    await tap(/^Barrel on deck made/);
    await tap(/^Barrel on deck missed/);
    expect(button(/^Barrel on deck made 2/)).toBeTruthy();
    await later(/^Take back Barrel on deck miss 0:11/);
    await tap(/^Take back Barrel on deck miss 0:11/);
    expect(button(/^Barrel on deck missed 0/)).toBeTruthy();
    await tap(/^Take back Barrel on deck 0:15/);
    expect(button(/^Barrel on deck made 1/)).toBeTruthy();
    expect(watch.sheet.entries.map((e) => e.step)).toEqual([1, 1, 1, -1, -1]);
  });

  it('shows a tap on its card at once, and elsewhere once that frame is drawn', async () => {
    const { watch } = open('slackwater.json');
    await tap(/^Barrel on deck made/);
    await later(/^Take back Barrel on deck/);
    const frames: FrameRequestCallback[] = [];
    const frame = vi.spyOn(globalThis, 'requestAnimationFrame').mockImplementation((f) => frames.push(f));
    await tap(/^Barrel on deck made/);
    await tap(/^Barrel on deck missed/);
    expect(button(/^Barrel on deck made 2/)).toBeTruthy();
    expect(button(/^Barrel on deck missed 1/)).toBeTruthy();
    expect(watch.sheet.entries).toHaveLength(3);
    expect(screen.getAllByRole('button', { name: /^Take back/ })).toHaveLength(1);
    expect(frames).toHaveLength(1);
    frames[0]?.(0);
    frame.mockRestore();
    await vi.waitFor(
      () => expect(screen.getAllByRole('button', { name: /^Take back/ })).toHaveLength(3),
      PATIENT
    );
  });

  it('keeps the last tap although the page goes before its frame', async () => {
    const { watch } = open('slackwater.json');
    const frame = vi.spyOn(globalThis, 'requestAnimationFrame').mockImplementation(() => 1);
    await tap(/^Barrel on deck made/);
    dispatchEvent(new Event('pagehide'));
    expect(await draft(EVENT, draftKey(watch.sheet))).toMatchObject({ entries: [{ id: 'auto_deck' }] });
    await tap(/^Barrel on deck made/);
    await tap('Save');
    frame.mockRestore();
    await vi.waitFor(async () => expect(await draft(EVENT, draftKey(watch.sheet))).toBeUndefined(), PATIENT);
  });

  it('shows the place of a tap whose frame is not drawn yet', async () => {
    const { watch } = open('slackwater.json');
    const frame = vi.spyOn(globalThis, 'requestAnimationFrame').mockImplementation(() => 1);
    await tap(/^Barrel on deck made/);
    watch.putAt([3, 2]);
    frame.mockRestore();
    expect(watch.sheet.entries).toMatchObject([{ id: 'auto_deck', place: [3, 2] }]);
  });

  it('keeps the seconds of what the robot does, and only where the game asks', async () => {
    open('millrace.json');
    expect(screen.queryByRole('button', { name: 'Feeding' })).toBeNull();
    cleanup();
    const { watch, saved } = open('stonefield.json');
    await tap(/^Defending/);
    vi.setSystemTime(Date.now() + 10_000);
    await tap(/^Stopped/);
    expect(button(/^Stopped/).getAttribute('aria-pressed')).toBe('true');
    vi.setSystemTime(Date.now() + 5_000);
    await tap(/^Scoring/);
    await tap('Save');
    expect(saved[0]?.answers).toMatchObject({ guarding: 10, stopped: 5, feeding: 0 });
    expect(watch.sheet.entries.map((e) => [e.id, e.step])).toEqual([
      ['guarding', 1],
      ['guarding', -1],
      ['stopped', 1],
      ['stopped', -1]
    ]);
  });

  it('keeps a draft after each tap and drops it with the save', async () => {
    const { watch, saved } = open('slackwater.json');
    await tap(/^Casts off/);
    const kept = () => draft(EVENT, draftKey(watch.sheet));
    await vi.waitFor(async () => expect(await kept()).toMatchObject(watch.sheet), PATIENT);
    await tap('Save');
    await vi.waitFor(async () => expect(await kept()).toBeUndefined(), PATIENT);
    expect(saved[0]?.counts?.cast_off).toEqual({ made: 1 });
  });

  it('keeps the last tap although the page is gone before the disk answers', async () => {
    const { watch } = open('slackwater.json');
    await tap(/^Casts off/);
    const put = vi.spyOn(IDBObjectStore.prototype, 'put').mockImplementation(() => {
      throw new DOMException('the page is gone', 'AbortError');
    });
    const said = vi.spyOn(console, 'error').mockImplementation(() => undefined);
    dispatchEvent(new Event('pagehide'));
    await vi.waitFor(() => expect(said).toHaveBeenCalled(), PATIENT);
    put.mockRestore();
    said.mockRestore();
    const key = draftKey(watch.sheet);
    expect(await draft(EVENT, key)).toMatchObject(watch.sheet);
    expect(await drafts(EVENT)).toMatchObject([watch.sheet]);
    // The next one that is written takes its place, and with the form both are gone.
    await tap(/^Casts off/);
    await vi.waitFor(async () => expect(await draft(EVENT, key)).toMatchObject(watch.sheet), PATIENT);
    await vi.waitFor(() => expect(localStorage).toHaveLength(0), PATIENT);
    await tap(/^Casts off/);
    dispatchEvent(new Event('pagehide'));
    await tap('Save');
    await vi.waitFor(async () => expect(await draft(EVENT, key)).toBeUndefined(), PATIENT);
  });

  it('says in words when a save fails, and keeps what was tapped', async () => {
    const { event, watch } = open('slackwater.json');
    vi.mocked(event.save).mockRejectedValueOnce(new Error('the disk is full'));
    await tap(/^Casts off/);
    await tap('Save');
    expect((await screen.findByRole('alert')).textContent).toMatch(
      /Not saved\..*the disk is full.*still here/
    );
    expect(button(/^Casts off/).textContent).toMatch(/1$|Yes/);
    await vi.waitFor(async () => expect(await draft(EVENT, draftKey(watch.sheet))).toBeTruthy(), PATIENT);
  });

  it('records that a robot did not show, and nothing else', async () => {
    const { saved } = open('slackwater.json');
    await tap('Did not show');
    await tap('Save');
    expect(saved[0]).toEqual({ match: 'Q7', team: '40117', scout: 's03', absent: true });
  });

  it('says what is unsent in words', () => {
    open('slackwater.json');
    expect(screen.getByText('2 records wait for a network')).toBeTruthy();
  });

  it('never calls stored what is still to be saved', async () => {
    const { watch } = open('slackwater.json', '', { link: 'fine', waiting: 0 });
    expect(screen.getByText('Everything is stored')).toBeTruthy();
    await tap('Casts off');
    const kept = 'Each tap is kept on this tablet; save when the match is over.';
    expect(await screen.findByText(kept, undefined, PATIENT)).toBeTruthy();
    expect(screen.queryByText('Everything is stored')).toBeNull();
    watch.nudge(400);
    expect(await screen.findByText(/^The match is over\./)).toBeTruthy();
  });

  it('says first what hinders saving', async () => {
    open('slackwater.json', '', { link: 'full', waiting: 0 });
    await tap('Casts off');
    expect(screen.getByText('The disk of this device is full: nothing new fits')).toBeTruthy();
  });
});

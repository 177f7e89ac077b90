import { scaleOf } from '$lib/figures';
import { cleanup, fireEvent, render, screen } from '@testing-library/svelte';
import { afterEach, describe, expect, it, vi } from 'vitest';
import EntryRow from './EntryRow.svelte';
import type { Entry } from './order';
import type { PickListState } from './pick-list.svelte';

const entry = (more: Partial<Entry> = {}): Entry => ({
  team: '41',
  key: 'a0',
  never: false,
  reason: '',
  note: 'quick',
  conflict: false,
  ...more
});

function setUp(more: Partial<Entry> = {}) {
  const note = vi.fn(async () => true);
  const never = vi.fn(async () => true);
  const props = {
    entry: entry(more),
    list: { note, never } as unknown as PickListState,
    rank: 1,
    name: 'Millwrights',
    estimate: undefined,
    scale: scaleOf(0, 1),
    here: true,
    open: true,
    asking: undefined,
    highest: 3,
    robot: '/',
    said: undefined,
    numbers: '',
    history: (record: string) => `/history/${record}`,
    record: 'x',
    hold: () => undefined,
    toggle: () => undefined,
    close: () => undefined,
    onfocus: () => undefined
  };
  return { ...render(EntryRow, props), props, note, never };
}
afterEach(cleanup);

const noteField = () => screen.getByLabelText<HTMLInputElement>('Note on 41');

describe('EntryRow', () => {
  it('keeps what is being typed when others change the entry', async () => {
    const { rerender, note } = setUp();
    expect(noteField().value).toBe('quick');
    await fireEvent.input(noteField(), { target: { value: 'quick, but tips' } });
    await rerender({ entry: entry({ tier: 2, note: 'quick' }) });
    expect(noteField().value).toBe('quick, but tips');
    await fireEvent.submit(noteField().form!);
    expect(note).toHaveBeenCalledWith('41', 'quick, but tips');
  });

  it('shows the newest note when it is opened again', async () => {
    const { rerender } = setUp();
    await rerender({ open: false });
    await rerender({ entry: entry({ note: 'slow today' }), open: true });
    expect(noteField().value).toBe('slow today');
  });

  it('asks for the reason of a never-pick and says it on the row', async () => {
    const { rerender, never } = setUp();
    const field = screen.getByLabelText<HTMLInputElement>('Why 41 is never to be picked');
    await fireEvent.input(field, { target: { value: ' breaks down ' } });
    await fireEvent.submit(field.form!);
    expect(never).toHaveBeenCalledWith('41', 'breaks down');
    await rerender({ entry: entry({ never: true, reason: 'breaks down' }) });
    expect(screen.getByRole('button', { expanded: true }).textContent).toMatch(
      /Never pick.*41.*breaks down/s
    );
  });
});

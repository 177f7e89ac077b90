import { fireEvent, render, screen } from '@testing-library/svelte';
import { beforeEach, describe, expect, it, vi } from 'vitest';
import { session } from '$lib/state/session.svelte';
import type { Session } from '$lib/api';
import ServerWarnings from './ServerWarnings.svelte';

const said = (...messages: string[]): Session => ({
  set_up: true,
  events: [],
  protocol: { min: 1, max: 1 },
  warnings: messages.map((message) => ({ code: 'disk_low', message }))
});

describe('warnings of the server', () => {
  const load = vi.spyOn(session, 'load');
  beforeEach(() => void load.mockReset().mockResolvedValue());

  it('stand until they are hidden, and come again when they say something else', async () => {
    session.value = said('The disk has 1.5 GB left.', 'The last back-up failed.');
    render(ServerWarnings);
    expect(screen.getAllByRole('alert')).toHaveLength(2);
    await fireEvent.click(screen.getAllByRole('button', { name: 'Hide' })[0]!);
    expect(screen.queryByText(/1.5 GB/)).toBeNull();
    expect(screen.getByText(/back-up failed/)).toBeTruthy();
    session.value = said('The disk has 0.2 GB left.');
    expect(await screen.findByText(/0.2 GB/)).toBeTruthy();
    expect(screen.queryByText(/back-up failed/)).toBeNull();
  });

  it('are asked for at once and again and again', () => {
    vi.useFakeTimers();
    const { unmount } = render(ServerWarnings);
    expect(load).toHaveBeenCalledTimes(1);
    vi.advanceTimersByTime(5 * 60_000);
    expect(load).toHaveBeenCalledTimes(2);
    unmount();
    vi.advanceTimersByTime(60 * 60_000);
    expect(load).toHaveBeenCalledTimes(2);
    vi.useRealTimers();
  });

  it('are nothing where there are none', () => {
    session.value = undefined;
    render(ServerWarnings);
    expect(screen.queryByRole('alert')).toBeNull();
  });
});

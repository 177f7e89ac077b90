import { afterEach, describe, expect, it } from 'vitest';
import type { Session } from '$lib/api';
import { takeFragment } from './fragment';
import { homeOf } from './home';

const session = (more: Partial<Session>): Session => ({
  set_up: true,
  events: [],
  protocol: { min: 1, max: 1 },
  ...more
});
const event = { event_id: 'e1', name: 'E', role: 'lead' as const, nickname: 'l', member_id: 'm' };

describe('homeOf', () => {
  it.each([
    ['a scout watches', session({ event_id: 'e1', role: 'scout' }), '/e/e1/watch'],
    ['a coach looks at today', session({ event_id: 'e1', role: 'coach' }), '/e/e1'],
    ['an account with one event enters it', session({ account: { name: 'l' }, events: [event] }), '/e/e1'],
    [
      'an account with several chooses',
      session({ account: { name: 'l' }, events: [event, event] }),
      '/events'
    ],
    ['an account without any makes one', session({ account: { name: 'l' } }), '/events'],
    ['nobody signs in', session({}), '/sign-in'],
    ['before the server was asked', undefined, '/sign-in']
  ])('%s', (_, given, path) => expect(homeOf(given)).toBe(path));
});

describe('takeFragment', () => {
  afterEach(() => history.replaceState(null, '', '/'));

  it('reads the secret and takes it off the address bar and the history', () => {
    history.replaceState(null, '', '/join?x=1#7K3M-Q2XD');
    const entries = history.length;
    expect(takeFragment()).toBe('7K3M-Q2XD');
    expect(location.href).toMatch(/\/join\?x=1$/);
    expect(history.length).toBe(entries);
    expect(takeFragment()).toBe('');
  });

  it('lives with a link that was cut off', () => {
    history.replaceState(null, '', '/join#abc%2');
    expect(takeFragment()).toBe('abc%2');
  });
});

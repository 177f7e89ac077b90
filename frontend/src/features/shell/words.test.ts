import { describe, expect, it } from 'vitest';
import { sayGiven } from './words';

describe('sayGiven', () => {
  const now = new Date('2031-03-06T14:40:00Z');
  const say = (at: string) => sayGiven({ by: 'lead', at }, now, 'Europe/Berlin');

  it('says who gave out what the screens show, and when', () => {
    expect(say('2031-03-06T14:32:00Z')).toBe(
      'As lead gave it out at 15:32, 8 min ago; the server has not answered since.'
    );
    expect(say('2031-03-05T20:00:00Z')).toContain('5 March 2031, 21:00, 18 h ago');
  });

  it('is silent where nobody knows when', () => expect(say('')).toBe(''));
});

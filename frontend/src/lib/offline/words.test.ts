import { describe, expect, it } from 'vitest';
import type { Status } from './sync';
import { sayUnsent } from './words';

const status = (more: Partial<Status>): Status => ({
  link: 'fine',
  waiting: 0,
  refused: 0,
  others: [],
  ...more
});

describe('sayUnsent', () => {
  it.each([
    [status({}), 'Everything is stored'],
    [status({ waiting: 1, link: 'working' }), 'Sending 1 record'],
    [status({ waiting: 2, link: 'no-answer' }), '2 records wait for a network'],
    [status({ photos: 1, link: 'no-answer' }), '1 photo waits for a network'],
    [status({ waiting: 1, photos: 2, link: 'working' }), 'Sending 1 record and 2 photos'],
    [status({ waiting: 1, link: 'signed-out' }), '1 record waits until you join again'],
    [status({ link: 'no-answer' }), 'No network; nothing waits'],
    [status({ link: 'full' }), 'The disk of this device is full: nothing new fits'],
    [status({ waiting: 1, link: 'full' }), '1 record waits; the disk of this device is full'],
    [
      status({ waiting: 1, refused: 2, link: 'no-answer', others: [{ nickname: 'bo', records: 3 }] }),
      '1 record waits for a network; 2 records were refused; 3 records of bo wait until bo joins here again'
    ]
  ])('%o', (given, words) => expect(sayUnsent(given)).toBe(words));
});

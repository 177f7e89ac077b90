import { describe, expect, it } from 'vitest';
import { seenOf } from './people';

const entry = (author: string, device_id: string, time: string) => ({
  author,
  device_id,
  made_at: `2031-03-06T${time}:00Z`
});

describe('seenOf', () => {
  it('has the last entry of each in any order, and counts devices', () => {
    const seen = seenOf([
      entry('ana', 'a', '10:00'),
      entry('ana', 'b', '12:00'),
      entry('ana', 'a', '11:00'),
      entry('bo', '', '09:00'),
      { author: 'cy', device_id: 'c', made_at: '' }
    ]);
    expect(seen.get('ana')).toEqual({ at: new Date('2031-03-06T12:00:00Z'), devices: 2 });
    expect(seen.get('bo')).toEqual({ at: new Date('2031-03-06T09:00:00Z'), devices: 0 });
    expect(seen.has('cy')).toBe(false);
  });
});

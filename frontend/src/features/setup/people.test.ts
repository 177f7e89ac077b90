import { describe, expect, it } from 'vitest';
import { byDevice, sayDevices, seenOf } from './people';

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

describe('sayDevices', () => {
  const now = new Date('2031-03-06T12:00:00Z');
  it.each([
    [undefined, ''],
    [
      [
        { kind: 'iPad', signed_in_at: '', last_seen_at: '2031-03-06T11:56:00Z' },
        { signed_in_at: '', last_seen_at: '2031-03-06T09:00:00Z' }
      ],
      'iPad, 4 min ago; a device, 3 h ago'
    ]
  ])('%o', (devices, words) => expect(sayDevices(devices, now)).toBe(words));
});

describe('byDevice', () => {
  it('makes of each device what a tablet would have saved as a file', () => {
    const item = (device_id: string, author: string, n: number) => ({
      device_id,
      author,
      role: 'scout' as const,
      received_at: '2031-03-06T12:00:00Z',
      item: { revision_id: `r${n}`, body: { match: 'Q1' } }
    });
    const devices = byDevice([
      item('d1', 'ana', 1),
      item('d2', 'cy', 2),
      item('d1', 'bo', 3),
      item('d1', 'ana', 4)
    ]);
    expect(devices.map((d) => [d.device, d.names])).toEqual([
      ['d1', ['ana', 'bo']],
      ['d2', ['cy']]
    ]);
    const lines = devices[0]!.text.trimEnd().split('\n');
    expect(lines.map((l) => (JSON.parse(l) as { revision_id: string; author: string }).revision_id)).toEqual([
      'r1',
      'r3',
      'r4'
    ]);
    expect(JSON.parse(lines[1]!)).toEqual({
      revision_id: 'r3',
      body: { match: 'Q1' },
      author: 'bo',
      role: 'scout',
      device_id: 'd1'
    });
  });
});

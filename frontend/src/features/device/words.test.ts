import { describe, expect, it } from 'vitest';
import type { Status } from '$lib/offline';
import { sayReady, sayShell, sayWhatToDo } from './words';

const status = (more: Partial<Status> = {}): Status => ({
  link: 'fine',
  waiting: 0,
  refused: 0,
  others: [],
  ...more
});

describe('this device', () => {
  it('counts all that the server does not have, of everybody', () => {
    expect(sayReady(status(), undefined)).toBe('Everything that was recorded here is on the server too.');
    expect(sayReady(status({ refused: 1 }), { kept: false })).toBe('One record is on this device alone.');
    expect(
      sayReady(status({ waiting: 2, refused: 1, others: [{ nickname: 'bo', records: 3 }] }), { kept: true })
    ).toBe('6 records are on this device alone, and kept until sent.');
    expect(sayReady(status({ waiting: 1, photos: 1 }), undefined)).toBe(
      'One record and one photo are on this device alone.'
    );
    expect(sayReady(status({ photos: 2 }), undefined)).toBe('2 photos are on this device alone.');
  });

  it('says what to do where somebody has to do something, and that nothing is lost', () => {
    for (const link of ['signed-out', 'outdated'] as const)
      expect(sayWhatToDo(status({ link }))).toContain('Everything that was recorded stays here.');
    expect(sayWhatToDo(status({ link: 'signed-out' }))).toContain('save what is unsent as a file');
    expect(sayWhatToDo(status({ link: 'full', reason: 'The disk is full.' }))).toBe('The disk is full.');
    for (const link of ['starting', 'working', 'fine', 'no-answer'] as const)
      expect(sayWhatToDo(status({ link }))).toBe('');
  });

  it('does not promise to open without a network where it cannot', () => {
    expect(sayShell('ready')).toContain('Here: it opens and records without a network');
    expect(sayShell('insecure')).toContain('does not stay');
  });
});

import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { Revision, Role } from '$lib/api';
import type { Game } from '$lib/game/types';
import { isMerged, resolve, type StoredRecord } from '$lib/offline';
import { fieldsOf, type Words } from './fields';
import { placeOf, titleOf } from './title';
import {
  backTo,
  decidedFor,
  differences,
  mayWrite,
  newestFirst,
  stateAt,
  stateBefore,
  versionsOf
} from './versions';

// The same vectors that Go and TypeScript resolve alike.
interface Vector {
  name: string;
  revisions: Revision[];
}
const vectors = JSON.parse(readFileSync('../testdata/revisions/revisions.json', 'utf8')) as Vector[];

function record(revisions: Revision[]): StoredRecord {
  const { record_id, kind } = revisions[0]!;
  return { event: 'e', record_id, kind, revisions, ...resolve(revisions) };
}

/** The record after somebody saved a body, as the outbox does it: built upon all heads. */
function saved(before: StoredRecord, body: Record<string, unknown>): StoredRecord {
  const made: Revision = {
    revision_id: 'ffffffff-ffff-7fff-bfff-ffffffffffff',
    record_id: before.record_id,
    parents: before.heads,
    kind: before.kind as Revision['kind'],
    lamport: Math.max(...before.revisions.map((r) => r.lamport)) + 1,
    author: 'lead',
    role: 'lead',
    device_id: 'd',
    made_at: '2031-03-06T12:00:00Z',
    body
  };
  return record([...before.revisions, made]);
}

const filled = vectors.filter((v) => v.revisions.length > 0);
const quarrels = filled.map((v) => [v.name, record(v.revisions)] as const).filter(([, r]) => r.conflict);

describe('deciding', () => {
  it('has vectors to try', () => expect(quarrels.length).toBeGreaterThan(3));

  it.each(quarrels)('for any version settles what it says: %s', (_, r) => {
    const versions = versionsOf(r);
    expect(versions.length).toBeGreaterThan(0);
    expect(versions[0]!.by[0]!.revision_id, 'the first is the one that counts').toSatisfy(
      (id: string) => isMerged(r.kind) || id === r.head
    );
    for (const version of versions) {
      const after = saved(r, version.body);
      if (!isMerged(r.kind)) {
        expect(after).toMatchObject({ conflict: false, heads: [after.head], body: version.body });
        continue;
      }
      for (const [name, value] of Object.entries(version.body)) {
        expect(after.disputed).not.toContain(name);
        expect(after.body[name]).toEqual(value === null ? undefined : value);
      }
    }
  });

  it.each(filled.map((v) => [v.name, record(v.revisions)] as const).filter(([, r]) => !r.conflict))(
    'offers nothing where nobody disagrees: %s',
    (_, r) => expect(versionsOf(r)).toEqual([])
  );
});

describe('a decision', () => {
  it.each(quarrels.filter(([, r]) => !isMerged(r.kind)))('names whose version was taken: %s', (_, r) => {
    for (const version of versionsOf(r)) {
      const after = saved(r, version.body);
      const by = decidedFor(after, after.revisions.at(-1)!);
      expect(version.by.map((b) => b.revision_id)).toContain(by?.revision_id);
    }
    const other = saved(r, { ...r.body, note: 'neither' });
    expect(decidedFor(other, other.revisions.at(-1)!)).toBeUndefined();
  });
});

describe('going back', () => {
  // Two revisions with one id are a fault that no device makes.
  const sound = filled.filter(
    (v) => new Set(v.revisions.map((r) => r.revision_id)).size === v.revisions.length
  );
  it.each(sound.map((v) => [v.name, record(v.revisions)] as const))('restores every state: %s', (_, r) => {
    for (const { revision_id } of r.revisions) {
      const body = backTo(r, revision_id);
      const after = body ? saved(r, body) : r;
      expect(after.body).toEqual(stateAt(r, revision_id));
    }
  });
});

const revision = (
  n: number,
  parents: number[],
  body: Record<string, unknown>,
  more: Partial<Revision> = {}
): Revision => ({
  revision_id: `r${n}`,
  record_id: 'x',
  parents: parents.map((p) => `r${p}`),
  kind: 'entry',
  lamport: n,
  author: 'ana',
  role: 'lead' as Role,
  device_id: 'd',
  made_at: '2031-03-06T12:00:00Z',
  body,
  ...more
});

describe('an entry of two leads', () => {
  const entry = record([
    revision(1, [], { list: 'l', team: '40117', key: 'a0' }),
    revision(2, [1], { tier: 1, note: 'fast' }),
    revision(3, [1], { tier: 2, reason: 'tips' }, { author: 'bo' })
  ]);

  it('sets the disputed members alone side by side', () => {
    expect(versionsOf(entry).map((v) => [v.by.map((r) => r.author), v.body])).toEqual([
      [['bo'], { tier: 2 }],
      [['ana'], { tier: 1 }]
    ]);
  });

  it('stays disputed under a later change of something else, and can still be settled', () => {
    const noted = saved(entry, { note: 'slow' });
    expect(noted).toMatchObject({ heads: [noted.head], conflict: true, disputed: ['tier'] });
    expect(versionsOf(noted)).toHaveLength(2);
  });

  it('shows those who say the same as one', () => {
    const three = record([...entry.revisions, revision(4, [1], { tier: 1 }, { author: 'cy' })]);
    expect(versionsOf(three).map((v) => v.by.map((r) => r.author))).toEqual([['cy', 'ana'], ['bo']]);
  });

  it('is told in steps, each against what its author had seen', () => {
    expect(newestFirst(entry.revisions).map((r) => r.revision_id)).toEqual(['r3', 'r2', 'r1']);
    expect(stateBefore(entry, entry.revisions[0]!)).toBeUndefined();
    expect(stateBefore(entry, entry.revisions[2]!)).toEqual({ list: 'l', team: '40117', key: 'a0' });
    expect(stateAt(entry, 'r3')).toEqual({ list: 'l', team: '40117', key: 'a0', tier: 2, reason: 'tips' });
  });

  it('goes back by taking away what was added since', () => {
    expect(backTo(entry, 'r1')).toEqual({ tier: null, note: null, reason: null });
  });
});

const game: Game = {
  id: 'g',
  name: 'G',
  version: 1,
  alliance: { robots: 2 },
  periods: [
    { id: 'auto', name: 'Autonomous', seconds: 15 },
    { id: 'driven', name: 'Driven', seconds: 100 }
  ],
  actions: [
    { id: 'auto_sack', name: 'Sack', kind: 'count', period: 'auto' },
    { id: 'sack', name: 'Sack', kind: 'count', period: 'driven' },
    { id: 'gate', kind: 'flag' },
    { id: 'ramp', kind: 'choice', options: [{ id: 'top', name: 'On top' }] }
  ],
  fouls: [{ id: 'push', name: 'Pushing' }]
};
const words: Words = { game, listName: () => 'First picks', placeOf: () => 'behind 40105' };
const said = (kind: string, body: Record<string, unknown>) =>
  fieldsOf(kind, body, words).map((f) => `${f.label}: ${f.text}`);

describe('fields', () => {
  it('say an observation in the order of the game, and what the game does not know too', () => {
    expect(
      said('observation', {
        match: 'Q1',
        team: '7',
        scout: 'ana',
        counts: {
          lost: { made: 1 },
          sack: { made: 0, missed: 2 },
          auto_sack: { made: 3 },
          gate: { made: 1 }
        },
        choices: { ramp: { option: 'top', tried: true } },
        fouls: { push: 0 },
        taps: [[1, 'sack', 1]],
        note: 'x',
        absent: false,
        later: { a: 1 }
      })
    ).toEqual([
      'Match: Q1',
      'Robot: 7',
      'Watched by: ana',
      'Sack in autonomous: 3',
      'Sack in driven: 0, 2 missed',
      'Gate: yes',
      'Lost: 1',
      'Ramp: On top, tried for more',
      'Pushing: 0',
      'Times: 1 tap',
      'Note: x',
      'Later: {"a":1}'
    ]);
  });

  it('say a result, a mark and an entry', () => {
    expect(
      said('result', {
        match: 'Q1',
        play: 2,
        alliance: 'red',
        score: 41.5,
        absent: ['7', '8'],
        robots: { 7: { gate: 1 } }
      })
    ).toEqual([
      'Match: Q1',
      'Play: 2',
      'Alliance: Red',
      'Score: 41.50',
      '7: {"gate":1}',
      'Did not show: 7, 8'
    ]);
    expect(said('mark', { team: '7', match: 'Q4', kind: 'new_robot' })).toEqual([
      'Match: Q4',
      'Robot: 7',
      'What: New robot'
    ]);
    expect(said('entry', { list: 'l', team: '7', key: 'a1', tier: 2, never: false })).toEqual([
      'Tier: 2',
      'Place: behind 40105'
    ]);
  });

  it('differ where a value changed, came or went', () => {
    const a = fieldsOf('result', { score: 41, from_fouls: 4 }, words);
    const b = fieldsOf('result', { score: 45, ranking_points: 2 }, words);
    expect(differences(a, b)).toEqual([
      { id: 'score', label: 'Score', from: '41', to: '45' },
      { id: 'ranking_points', label: 'Ranking points', to: '2' },
      { id: 'from_fouls', label: 'Points from fouls', from: '4' }
    ]);
    expect(differences(b, b)).toEqual([]);
  });
});

describe('titles and places', () => {
  it.each([
    ['observation', { match: 'Q1', team: '7', scout: 'ana' }, 'Q1, robot 7, watched by ana', '/matches/Q1'],
    ['result', { match: 'Q1', play: 2, alliance: 'red' }, 'Q1, play 2, result of red', '/matches/Q1'],
    ['entry', { list: 'l', team: '7' }, '7 in First picks', '/lists/l'],
    ['list', { name: 'Ours' }, 'List Ours', '/lists/id'],
    ['mark', { team: '7', match: 'Q4' }, 'Mark on 7 from Q4 on', '/robots/7'],
    ['mark', { team: '7', match: 'Q4', kind: 'no_change' }, 'No change of 7 up to Q4', '/robots/7'],
    ['note', { team: '7', match: 'Q4' }, 'Note on 7 in Q4', '/robots/7'],
    ['note', {}, 'Note', '']
  ])('of a %s %o', (kind, body, title, to) => {
    expect(titleOf({ kind, body }, () => 'First picks')).toBe(title);
    expect(placeOf({ kind, body, record_id: 'id' }).to).toBe(to);
  });

  it('offer no button that the server would refuse', () => {
    expect(mayWrite('result', 'lead', false)).toBe(true);
    expect(mayWrite('result', 'coach', false)).toBe(false);
    expect(mayWrite('entry', 'coach', false)).toBe(true);
    expect(mayWrite('observation', 'scout', true)).toBe(true);
    expect(mayWrite('observation', 'scout', false)).toBe(false);
    expect(mayWrite('observation', undefined, true)).toBe(false);
  });
});

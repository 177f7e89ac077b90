import type { Observation, Suspect } from '$lib/api';
import type { Game } from '$lib/game/types';
import type { StoredRecord } from '$lib/offline';
import { describe, expect, it } from 'vitest';
import {
  accept,
  before,
  firstLine,
  mendedOf,
  movesOf,
  NAME_AWAY,
  nameless,
  questionOf,
  recordsOf,
  renamed,
  robotsOf,
  seatWords,
  TAKEN_BACK,
  undo,
  waysOf,
  type Seen
} from './truth';

const game = {
  periods: [
    { id: 'auto', name: 'Autonomous' },
    { id: 'driver', name: 'Driver-controlled' }
  ],
  actions: [
    { id: 'auto_deck', period: 'auto', name: 'Barrel on deck', kind: 'count', misses: true },
    { id: 'deck', period: 'driver', name: 'Barrel on deck', kind: 'count', misses: true },
    { id: 'hold', period: 'driver', name: 'Barrel in hold', kind: 'count' }
  ]
} as unknown as Game;

let made = 0;
/** A record with one revision a body, each built upon the one before. */
function record(...bodies: Partial<Observation>[]): Seen {
  const id = `r${++made}`;
  const revisions = bodies.map((b, i) => ({
    revision_id: `${id}v${i}`,
    parents: i > 0 ? [`${id}v${i - 1}`] : [],
    author: i > 0 ? 'lead' : 'ana',
    made_at: `2031-03-06T1${i}:00:00Z`,
    body: { match: 'Q12', team: '40117', scout: 'ana', ...b }
  }));
  const head = revisions.at(-1)!;
  return { record_id: id, revisions, head: head.revision_id, body: head.body } as unknown as Seen;
}

const suspect = (s: Partial<Suspect>): Suspect => ({
  match: 'Q12',
  kind: 'outlier',
  teams: ['40117'],
  scouts: ['ana'],
  probability: 0.9,
  effect: 3,
  reason: 'The record looks odd.',
  ...s
});

describe('firstLine', () => {
  const u = (rank: number) => ({ team: '1', rank, reason: 'x', shift: 1 });
  it.each([
    [0, [], 'Nothing is known of any robot yet.'],
    [24, [], 'The first 24 are safe to pick from.'],
    [24, [u(3)], 'Of the first 24, 23 are safe to pick from; this one is not.'],
    [24, [u(1), u(2), u(3), u(4), u(5)], 'Of the first 24, 19 are safe to pick from; these five are not.'],
    [
      24,
      [u(3), u(26)],
      'Of the first 24, 23 are safe to pick from; these two are not (one of them may yet belong there).'
    ]
  ])('of %i', (first, unsafe, want) => expect(firstLine({ first, unsafe })).toBe(want));
});

describe('movesOf', () => {
  it.each([
    [
      { most: '40117', effect: 3.1, shift: 3.1, also: { team: '40123', shift: -2.8 } },
      '40117 would move by +3.1 points, 40123 by −2.8'
    ],
    [{ most: '40117', effect: 1.5 }, '40117 may move by about 1.5 points'],
    [{ most: '40117', effect: 0.01 }, ''],
    [{ effect: 0 }, '']
  ])('%j', (s, want) => expect(movesOf(suspect(s))).toBe(want));
});

describe('mending', () => {
  it('finds the records of a suspect in its order', () => {
    const one = record({});
    const two = record({ team: '40123', scout: 'ben' });
    const out = record({ discarded: true });
    const replay = record({ play: 2 });
    const swap = suspect({ kind: 'swap', teams: ['40123', '40117'], scouts: ['ben', 'ana'] });
    expect(recordsOf(swap, [one, two, out, replay])).toEqual([two, one]);
    const pair = suspect({ kind: 'disagree', scouts: ['ana', 'ben'] });
    const twin = record({ scout: 'ben' });
    expect(recordsOf(pair, [twin, one, two])).toEqual([one, twin]);
  });

  it('exchanges robots and nothing else', () => {
    const one = record({ counts: { deck: { made: 5 } }, checked: true });
    const two = record({ team: '40123', scout: 'ben', counts: { deck: { made: 1 } } });
    const s = suspect({ kind: 'swap', teams: ['40117', '40123'], scouts: ['ana', 'ben'] });
    const [way] = waysOf(s, [one, two], game);
    expect(way?.changes.map((c) => c.body)).toEqual([
      {
        match: 'Q12',
        team: '40123',
        scout: 'ana',
        counts: { deck: { made: 5 } },
        reason: 'Exchanged with 40117: the record looks odd'
      },
      {
        match: 'Q12',
        team: '40117',
        scout: 'ben',
        counts: { deck: { made: 1 } },
        reason: 'Exchanged with 40123: the record looks odd'
      }
    ]);
  });

  it('sets a count to what is likely, keeps the others, and says so', () => {
    const one = record({ counts: { hold: { made: 31 }, deck: { made: 4, missed: 1 } } });
    const s = suspect({ kind: 'stuck', action: 'hold', likely: [{ action: 'hold', from: 31, to: 7 }] });
    const [way] = waysOf(s, [one], game);
    expect(way?.name).toBe('Set Barrel in hold 7 instead of 31');
    expect(way?.changes[0]?.body).toMatchObject({
      counts: { hold: { made: 7 }, deck: { made: 4, missed: 1 } },
      edited: true
    });
    expect(questionOf(s, one, game)).toBe('40117 in Q12: Barrel in hold stands at 31. Is that right?');
  });

  it.each([
    [{ kind: 'wrong_robot', teams: ['40117', '40123'] }, ['It is 40123'], { team: '40123' }],
    [
      { kind: 'wrong_robot', teams: ['40117', '40123'], other: 'Q13' },
      ['It is 40123 in Q13'],
      { team: '40123', match: 'Q13' }
    ],
    [
      { kind: 'wrong_robot', teams: ['40117'], other: 'Q13' },
      ['It is of Q13'],
      { match: 'Q13', team: '40117' }
    ],
    [
      { kind: 'unknown_team', teams: ['40117', '40171', '40118'] },
      ['It is 40171', 'It is 40118'],
      { team: '40171' }
    ],
    [{ kind: 'outlier' }, [], undefined]
  ] as const)('of %j', (s, names, body) => {
    const ways = waysOf(suspect(s as unknown as Partial<Suspect>), [record({})], game);
    expect(ways.map((w) => w.name)).toEqual(names);
    if (body) expect(ways[0]?.changes[0]?.body).toMatchObject(body);
  });

  it('lets one of two records hold by leaving the other out', () => {
    const ana = record({});
    const ben = record({ scout: 'ben' });
    const ways = waysOf(suspect({ kind: 'disagree', scouts: ['ana', 'ben'] }), [ana, ben], game);
    expect(ways.map((w) => [w.name, w.changes[0]?.recordId])).toEqual([
      ['Go by ana', ben.record_id],
      ['Go by ben', ana.record_id]
    ]);
    expect(ways[0]?.changes[0]?.body).toMatchObject({ discarded: true });
  });

  it('lists what was mended, both of an exchange as one, and puts back what stood before', () => {
    const one = record({ team: '40117' }, { team: '40123', reason: 'Exchanged with 40117' });
    const two = record(
      { team: '40123', scout: 'ben' },
      { team: '40117', scout: 'ben', reason: 'Exchanged with 40123' }
    );
    const alone = record({ team: '40130', reason: 'typed with its first version' });
    const back = record({}, { discarded: true, reason: 'x' }, { reason: TAKEN_BACK });
    const [m, ...others] = mendedOf([one, alone, two, back]);
    expect(others).toEqual([]);
    expect(m).toMatchObject({ records: [one, two], author: 'lead', at: '2031-03-06T11:00:00Z' });
    expect(robotsOf(m!)).toEqual(['40117', '40123']);
    expect(before(one)?.team).toBe('40117');
    expect(undo(m!).map((c) => c.body)).toEqual([
      { match: 'Q12', team: '40117', scout: 'ana', reason: TAKEN_BACK },
      { match: 'Q12', team: '40123', scout: 'ben', reason: TAKEN_BACK }
    ]);
  });

  it('accepts as a revision that says why', () =>
    expect(accept(suspect({}), [record({})])[0]?.body).toMatchObject({
      checked: true,
      reason: 'Looked at and found right, although: the record looks odd'
    }));
});

describe('a name that is taken away', () => {
  it('is replaced by one that nobody has', () => {
    expect(nameless([])).toBe('s01');
    expect(nameless(['s02', 'ana', 's01'])).toBe('s03');
  });

  it('goes from the scout’s records and from no other, and is no mending', () => {
    const one = record({ note: 'tips' });
    const judged = { ...record({}), kind: 'judgement' } as unknown as Seen;
    const all = [
      { ...one, kind: 'observation' },
      judged,
      record({ scout: 'ben' })
    ] as unknown as StoredRecord[];
    const changes = renamed(all, 'ana', 's01');
    expect(changes.map((c) => [c.kind, c.body])).toEqual([
      ['observation', { match: 'Q12', team: '40117', scout: 's01', note: 'tips', reason: NAME_AWAY }],
      ['judgement', { match: 'Q12', team: '40117', scout: 's01' }]
    ]);
    expect(mendedOf([record({}, { scout: 's01', reason: NAME_AWAY })])).toEqual([]);
  });
});

it('says what is there of a match', () =>
  expect(seatWords(['arrived', 'arrived', 'missing', 'doubtful'].map((state) => ({ state })))).toBe(
    '2 arrived, 1 missing, 1 doubtful'
  ));

import { describe, expect, it } from 'vitest';
import type { Point, Revision, SketchBody } from '$lib/api';
import { resolve, sketchId } from '$lib/offline';
import type { Game } from '$lib/game/types';
import { drawnAt, markAt, plainField, robotAt, sceneAt, sceneWords, strip, thinned, waiting } from './sketch';

const game: Pick<Game, 'periods'> = {
  periods: [
    { id: 'auto', name: 'Autonomous', seconds: 15, pause_after: 3 },
    { id: 'driver', name: 'Driver-controlled', seconds: 135 },
    { id: 'endgame', name: 'Endgame', seconds: 20, within: 'driver' }
  ]
};
const EVENT = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';

const mark = (record_id: string, body: Partial<SketchBody>) => ({
  record_id,
  body: { match: 'Q7', second: 0, ...body }
});

describe('the time strip', () => {
  it('has the start, each change of period, and steps that are not beside one', () => {
    // 15 + 3 until drivers take over, 153 in all, its last 20 the endgame.
    expect(strip(game)).toEqual([0, 18, 40, 60, 80, 100, 120, 133]);
  });
  it('is one moment where a game says nothing of time', () => {
    expect(strip({ periods: [] })).toEqual([0]);
  });
});

describe('a scene', () => {
  const start = waiting(plainField, ['1', '2'], ['9']);
  const marks = [
    mark('a', { team: '1', place: [2, 3] }),
    mark('b', { team: '1', place: [6, 3], second: 18 }),
    mark('c', { second: 18, ink: [[0, 0], [4, 4]] }), // prettier-ignore
    mark('d', { second: 18, text: 'wait', place: [8, 4] }),
    mark('e', { second: 18, ink: [[1, 1]], removed: true }),
    mark('f', { second: 18, ink: [[1, 1]], match: 'Q8' })
  ];
  it('waits at the own end until somebody is put somewhere', () => {
    expect(start.get('9')).toEqual([plainField.length_m * 0.95, 4]);
    expect(sceneAt([], 'Q7', 0, start).robots.every((r) => !r.here)).toBe(true);
  });
  it('keeps robots where they were put last, and says from where they came', () => {
    const [one, two] = sceneAt(marks, 'Q7', 18, start).robots;
    expect(one).toEqual({ team: '1', at: [6, 3], here: true, from: [2, 3] });
    expect(two).toEqual({ team: '2', at: start.get('2'), here: false, from: undefined });
    expect(sceneAt(marks, 'Q7', 60, start).robots[0]).toEqual({
      team: '1',
      at: [6, 3],
      here: false,
      from: undefined
    });
  });
  it('shows what was drawn at its time, for its match, and not rubbed out', () => {
    const scene = sceneAt(marks, 'Q7', 18, start);
    expect([scene.strokes.map((s) => s.id), scene.words.map((w) => w.id)]).toEqual([['c'], ['d']]);
    expect(drawnAt(marks, 'Q7')).toEqual([0, 18]);
    expect(sceneWords(scene, 18)).toBe('Field at second 18: 1 is moved, 1 lines, “wait”');
  });
  it('finds what is under a finger, and nothing beside it', () => {
    const scene = sceneAt(marks, 'Q7', 18, start);
    expect(robotAt(scene, [6.4, 3.3], 1)?.team).toBe('1');
    expect(robotAt(scene, [12, 7], 1)).toBeUndefined();
    expect(markAt(scene, [7.8, 4], 0.5)).toBe('d');
    expect(markAt(scene, [4, 3.8], 0.5)).toBe('c');
    expect(markAt(scene, [14, 7], 0.5)).toBeUndefined();
  });
});

describe('two people at once', () => {
  let n = 0;
  const rev = (record: string, role: Revision['role'], body: object): Revision => ({
    revision_id: `018f3c2e-0000-7000-8000-${String(++n).padStart(12, '0')}`,
    record_id: record,
    parents: [],
    kind: 'sketch',
    lamport: 1,
    author: role,
    role,
    device_id: role,
    made_at: '2031-03-06T09:00:00Z',
    body: { match: 'Q7', second: 18, ...body } as Record<string, unknown>
  });
  /** What a device shows that has got these, in this order. */
  const shows = (revs: Revision[]) => {
    const ids = [...new Set(revs.map((r) => r.record_id))];
    const marks = ids.map((id) => ({
      record_id: id,
      body: resolve(revs.filter((r) => r.record_id === id)).body as unknown as SketchBody
    }));
    const { strokes, words, robots } = sceneAt(marks, 'Q7', 18, waiting(plainField, ['1', '2'], ['9']));
    return {
      strokes: strokes.map((s) => s.id).sort(),
      words: words.map((w) => w.text).sort(),
      places: robots.map((r) => r.at)
    };
  };
  it('lose no stroke, no word and no robot, whatever arrives first', () => {
    const place = (team: string) => sketchId(EVENT, 'Q7', 18, team);
    const lead = [
      rev('s1', 'lead', { ink: [[0, 0], [1, 1]] }), // prettier-ignore
      rev(place('1'), 'lead', { team: '1', place: [3, 3] }),
      rev(place('9'), 'lead', { team: '9', place: [12, 2] })
    ];
    const coach = [
      rev('s2', 'coach', { ink: [[5, 5], [6, 6]] }), // prettier-ignore
      rev('w1', 'coach', { text: 'cross here', place: [8, 4] }),
      rev(place('2'), 'coach', { team: '2', place: [4, 6] }),
      rev(place('9'), 'coach', { team: '9', place: [9, 9] })
    ];
    const want = {
      strokes: ['s1', 's2'],
      words: ['cross here'],
      // Of the one that both moved, the lead's place.
      places: [
        [3, 3],
        [4, 6],
        [12, 2]
      ]
    };
    expect(shows([...lead, ...coach])).toEqual(want);
    expect(shows([...coach.toReversed(), ...lead])).toEqual(want);
  });
});

describe('a stroke', () => {
  it('drops points that tell nothing and keeps its ends', () => {
    const line = Array.from({ length: 101 }, (_, i): Point => [i / 100, 0]);
    const thin = thinned(line);
    expect(thin[0]).toEqual([0, 0]);
    expect(thin.at(-1)).toEqual([1, 0]);
    expect(thin.length).toBeLessThan(15);
  });
  it('is never longer than the server takes', () => {
    const long = Array.from({ length: 4000 }, (_, i): Point => [i, 0]);
    expect(thinned(long).length).toBeLessThanOrEqual(500);
    expect(thinned([[1, 1]])).toEqual([[1, 1]]);
  });
});

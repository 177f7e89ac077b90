import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { Revision } from '../api/types';
import {
  debriefId,
  entryId,
  judgementId,
  observationId,
  pinId,
  pitId,
  resultId,
  rotaId,
  seatId,
  sketchId
} from './ids';
import { resolve, type Resolved } from './resolve';

// The same files are read by Go's tests; vitest runs in the frontend folder.
const read = <T>(file: string): T => JSON.parse(readFileSync(`../testdata/revisions/${file}`, 'utf8')) as T;

interface Vector {
  name: string;
  why: string;
  revisions: Revision[];
  want: Resolved;
}
interface NamedId {
  kind:
    'observation' | 'result' | 'judgement' | 'debrief' | 'sketch' | 'pin' | 'rota' | 'seat' | 'pit' | 'entry';
  namespace: string;
  match: string;
  play: number;
  second: number;
  captain: string;
  team: string;
  scout: string;
  alliance: 'red' | 'blue';
  question: string;
  id: string;
}

/** Every order of up to four, and some of more. */
function orders<T>(items: T[]): T[][] {
  if (items.length > 4) return [items, items.toReversed(), [...items.slice(2), ...items.slice(0, 2)]];
  if (items.length < 2) return [items];
  return items.flatMap((x, i) => orders(items.toSpliced(i, 1)).map((rest) => [x, ...rest]));
}

describe('resolve', () => {
  it.each(read<Vector[]>('revisions.json'))('$name: $why', ({ revisions, want }) => {
    for (const order of orders(revisions)) {
      expect(resolve(order)).toEqual(want);
      expect(resolve([...order, ...order])).toEqual(want);
    }
  });
});

describe('record ids', () => {
  it.each(read<NamedId[]>('ids.json'))('$kind $name', (v) => {
    const id = {
      observation: () => observationId(v.namespace, v.match, v.play, v.team, v.scout),
      result: () => resultId(v.namespace, v.match, v.play, v.alliance),
      judgement: () => judgementId(v.namespace, v.match, v.play, v.question, v.scout),
      debrief: () => debriefId(v.namespace, v.match, v.play, v.team),
      sketch: () => sketchId(v.namespace, v.match, v.second, v.team),
      pit: () => pitId(v.namespace, v.team, v.scout),
      rota: () => rotaId(v.namespace),
      seat: () => seatId(v.namespace, v.match, v.scout),
      pin: () => pinId(v.namespace, v.captain, v.team),
      entry: () => entryId(v.namespace, v.team)
    }[v.kind]();
    expect(id).toBe(v.id);
  });
});

/** Reads the file of unsent revisions that a tablet saved (asFile): it comes over any path, any number of times. */
import type { Observation, Revision } from '../api/types';
import { observationId } from './ids';

export interface FromFile {
  revisions: Revision[];
  problems: { line: number; message: string }[];
}

const id = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;

/**
 * What can be taken into the event, and what is wrong with the rest. `known`
 * says whether a revision is here already. Bodies are judged by the server.
 */
export function fromFile(text: string, event: string, known: (revision: string) => boolean): FromFile {
  const out: FromFile = { revisions: [], problems: [] };
  const here = new Set<string>();
  text.split('\n').forEach((line, i) => {
    if (line.trim() === '') return;
    const read = readLine(line);
    if (typeof read === 'string') {
      out.problems.push({ line: i + 1, message: read });
      return;
    }
    if (here.has(read.revision_id)) return; // the same file twice in one
    const why = stranger(read, event, (r) => here.has(r) || known(r));
    if (why) out.problems.push({ line: i + 1, message: why });
    else {
      here.add(read.revision_id);
      out.revisions.push(read);
    }
  });
  return out;
}

/** Ids of observations follow from the event, so a file of another event shows. */
function stranger(r: Revision, event: string, known: (revision: string) => boolean): string | undefined {
  if (r.parents.length > 0)
    return r.parents.some(known)
      ? undefined
      : 'this corrects a record that is not here: it may be of another event, or its first version is in another file';
  if (r.kind !== 'observation') return undefined;
  const { match, play, team, scout } = r.body as unknown as Observation;
  return r.record_id === observationId(event, match, play ?? 1, team, scout)
    ? undefined
    : 'this record is of another event';
}

function readLine(line: string): Revision | string {
  let value: unknown;
  try {
    value = JSON.parse(line);
  } catch {
    return 'this is not a line of JSON: the file was cut off, or is something else';
  }
  const r = value as Partial<Revision> | null;
  const good =
    typeof r === 'object' &&
    r !== null &&
    [r.revision_id, r.record_id].every((x) => typeof x === 'string' && id.test(x)) &&
    Array.isArray(r.parents) &&
    r.parents.every((p) => typeof p === 'string') &&
    [r.kind, r.author, r.made_at].every((x) => typeof x === 'string') &&
    typeof r.lamport === 'number' &&
    typeof r.body === 'object' &&
    r.body !== null;
  return good ? (r as Revision) : 'this is not a record that a tablet saved';
}

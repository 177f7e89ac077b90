// What is said of the robots of a list: comments made here, notes made elsewhere,
// and what scouts wrote, which can be pinned to the list.

import type { NoteBody, Observation } from '$lib/api';
import { compareMatches } from '$lib/figures';

/** Something that somebody said of a robot. */
export interface Said {
  id: string;
  text: string;
  author: string;
  match?: string;
}

export interface SaidOf {
  /** Comments on this list, those pinned among them, the last first. */
  here: Said[];
  /** Notes on the robot that belong to no list. */
  elsewhere: Said[];
  /** What scouts wrote and nobody pinned here, the last match first. */
  scouts: Said[];
}

interface Noted<B> {
  record_id: string;
  body: B;
  head: string;
  revisions: { revision_id: string; parents: readonly string[]; author: string }[];
}

/** Who made the first version of a record. */
const authorOf = (r: Pick<Noted<unknown>, 'revisions'>): string =>
  (r.revisions.find((v) => v.parents.length === 0) ?? r.revisions[0])?.author ?? '';

/** By team; a team of which nothing is said is not there. */
export function saidOf(
  list: string,
  notes: readonly Noted<NoteBody>[],
  observations: readonly { record_id: string; body: Observation }[]
): Map<string, SaidOf> {
  const out = new Map<string, SaidOf>();
  const of = (team: string) => {
    const found = out.get(team) ?? { here: [], elsewhere: [], scouts: [] };
    out.set(team, found);
    return found;
  };
  const pinned = new Set<string>();
  // Ids are of version 7: in the order of their text is in the order of time.
  for (const n of [...notes].sort((a, b) => (a.record_id < b.record_id ? 1 : -1))) {
    const { team, match, text, removed, scout } = n.body;
    if (removed || !team || !text || (n.body.list && n.body.list !== list)) continue;
    const said = { id: n.record_id, text, author: scout || authorOf(n), ...(match ? { match } : {}) };
    of(team)[n.body.list ? 'here' : 'elsewhere'].push(said);
    if (n.body.list && scout && match) pinned.add(`${team}/${match}/${scout}/${text}`);
  }
  for (const { record_id, body: o } of observations) {
    const text = o.note?.trim();
    if (!text || o.discarded || pinned.has(`${o.team}/${o.match}/${o.scout}/${text}`)) continue;
    of(o.team).scouts.push({ id: record_id, text, author: o.scout, match: o.match });
  }
  for (const s of out.values()) s.scouts.sort((a, b) => compareMatches(b.match!, a.match!));
  return out;
}

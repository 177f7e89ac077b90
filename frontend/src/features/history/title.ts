// What a record is about, and where it lives.

import type { StoredRecord } from '$lib/offline';

/** "Q31, robot 40117, watched by ana". */
export function titleOf(
  record: Pick<StoredRecord, 'kind' | 'body'>,
  listName: (id: string) => string | undefined
): string {
  const b = record.body as Record<string, string | number | undefined>;
  const match = Number(b.play ?? 1) > 1 ? `${b.match}, play ${b.play}` : b.match;
  switch (record.kind) {
    case 'observation':
      return `${match}, robot ${b.team}, watched by ${b.scout}`;
    case 'result':
      return `${match}, result of ${b.alliance}`;
    case 'entry':
      return `${b.team ?? 'A robot'} in ${listName(String(b.list)) ?? 'a list'}`;
    case 'list':
      return `List ${b.name ?? 'without a name'}`;
    case 'mark':
      return b.kind === 'no_change'
        ? `No change of ${b.team} up to ${b.match}`
        : `Mark on ${b.team} from ${b.match} on`;
    case 'question':
      return ['Question', b.team && `about ${b.team}`, b.match && `in ${b.match}`].filter(Boolean).join(' ');
    case 'training':
      return `Training of ${b.scout}`;
    case 'judgement':
      return `${match}, judged by ${b.scout}`;
    case 'agreement':
      return [`Agreed for ${match}`, b.team && `by ${b.team}`].filter(Boolean).join(', ');
    case 'debrief':
      return [`After ${match}`, b.team && `on ${b.team}`].filter(Boolean).join(', ');
    case 'sketch':
      return [`Drawn for ${match}`, b.team && `robot ${b.team}`].filter(Boolean).join(', ');
    case 'playoff':
      return `Around ${match}`;
    case 'selection':
      return ['Selection, step', b.step, b.captain, b.invites && `invites ${b.invites}`]
        .filter(Boolean)
        .join(' ');
    case 'rota':
      return 'The rota';
    case 'pit':
      return `Pit of ${b.team}, visited by ${b.scout}`;
    case 'seat':
      return `${match}, seat of ${b.scout}`;
    case 'pin':
      return `Heard of ${b.captain} and ${b.team}`;
    case 'rehearsal':
      return `Rehearsal ${b.name}`;
    case 'note':
      return ['Note', b.team && `on ${b.team}`, b.match && `in ${b.match}`].filter(Boolean).join(' ');
  }
  return record.kind;
}

/** Path below the event where lead and coach see the record at work. */
export function placeOf(record: Pick<StoredRecord, 'kind' | 'body' | 'record_id'>): {
  to: string;
  name: string;
} {
  const b = record.body as Record<string, string | undefined>;
  if (record.kind === 'list') return { to: `/lists/${record.record_id}`, name: 'The list' };
  if (record.kind === 'rota' || record.kind === 'seat') return { to: '/rota', name: 'Rota' };
  if (record.kind === 'entry' && b.list) return { to: `/lists/${b.list}`, name: 'The list' };
  if ((record.kind === 'observation' || record.kind === 'result') && b.match)
    return { to: `/matches/${b.match}`, name: b.match };
  if (['pin', 'rehearsal', 'selection'].includes(record.kind)) return { to: '/selection', name: 'Selection' };
  if (record.kind === 'playoff') return { to: '/playoffs', name: 'Playoffs' };
  if (['agreement', 'debrief', 'sketch'].includes(record.kind) && b.match)
    return { to: `/brief/${b.match}`, name: `Brief of ${b.match}` };
  if (b.team) return { to: `/robots/${b.team}`, name: b.team };
  if (b.match) return { to: `/matches/${b.match}`, name: b.match };
  return { to: '', name: 'Today' };
}

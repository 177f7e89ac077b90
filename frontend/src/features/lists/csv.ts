// A pick list as picklist.csv: rank,team,tier,never,reason,note.

import { csvText } from '$lib/figures';
import { inOrder, type Entry } from './order';

export function picklistCsv(entries: readonly Entry[]): string {
  const rows = [['rank', 'team', 'tier', 'never', 'reason', 'note']];
  inOrder(entries).forEach((e, i) => {
    rows.push([
      String(i + 1),
      e.team,
      e.tier === undefined ? '' : String(e.tier),
      e.never ? '1' : '0',
      e.reason,
      e.note
    ]);
  });
  return csvText(rows);
}

/** "first-picks.csv": a file name from the list's name that every system takes. */
export function fileName(name: string): string {
  const plain = name
    .normalize('NFD')
    .replace(/\p{M}/gu, '')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-|-$/g, '');
  return `${plain || 'picklist'}.csv`;
}

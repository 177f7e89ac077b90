/** What a key means on a row of a list. */
import type { SectionId } from './order';

export type Meant =
  | { what: 'move'; by: -1 | 1 }
  | { what: 'section'; to: SectionId }
  | { what: 'focus'; to: 'next' | 'before' | 'first' | 'last' }
  | { what: 'ask'; about: 'note' | 'never' | 'rank' }
  | { what: 'top' | 'remove' | 'open' | 'close' };

const plain: Record<string, Meant> = {
  ArrowDown: { what: 'focus', to: 'next' },
  ArrowUp: { what: 'focus', to: 'before' },
  Home: { what: 'focus', to: 'first' },
  End: { what: 'focus', to: 'last' },
  Enter: { what: 'open' },
  ' ': { what: 'open' },
  Escape: { what: 'close' },
  n: { what: 'ask', about: 'note' },
  p: { what: 'ask', about: 'rank' },
  x: { what: 'ask', about: 'never' },
  Delete: { what: 'remove' }
};

const withAlt: Record<string, Meant> = {
  ArrowUp: { what: 'move', by: -1 },
  ArrowDown: { what: 'move', by: 1 },
  Home: { what: 'top' }
};

/** undefined: the key is somebody else's. */
export function meantBy(e: Pick<KeyboardEvent, 'key' | 'altKey' | 'ctrlKey' | 'metaKey'>): Meant | undefined {
  if (e.ctrlKey || e.metaKey) return undefined;
  if (e.altKey) return withAlt[e.key];
  if (/^[0-9]$/.test(e.key)) return { what: 'section', to: e.key === '0' ? 'none' : Number(e.key) };
  return plain[e.key];
}

/** The row that gets the focus from row `at` of so many. */
export const focusAt = (to: 'next' | 'before' | 'first' | 'last', at: number, rows: number): number =>
  ({ next: Math.min(rows - 1, at + 1), before: Math.max(0, at - 1), first: 0, last: rows - 1 })[to];

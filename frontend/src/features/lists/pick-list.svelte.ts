// One pick list on the screen: its entries, what somebody does with them, and
// how to take it back.

import type { EventState } from '$lib/state/event.svelte';
import { entriesOf, recordChanges } from './entries';
import {
  append,
  inverse,
  moveBy,
  orderBy,
  place,
  sectionsOf,
  toRank,
  toSection,
  toTop,
  type Change,
  type Entry,
  type SectionId
} from './order';

const undoSteps = 100;

export class PickListState {
  readonly id: string;
  readonly #event: EventState;
  #undo = $state.raw<{ said: string; changes: Change[] }[]>([]);
  /** Why the last change was not saved. */
  failed = $state('');
  /** What was done last, said to a screen reader. */
  said = $state('');

  readonly entries = $derived.by((): Entry[] => entriesOf(this.id, this.#event.records('entry')));
  readonly sections = $derived(sectionsOf(this.entries));
  readonly body = $derived.by(() => this.#event.record('list', this.id)?.body);
  readonly canUndo = $derived.by(() => this.#undo.at(-1)?.said);

  constructor(event: EventState, id: string) {
    this.#event = event;
    this.id = id;
  }

  async #do(changes: Change[], said: string): Promise<boolean> {
    if (changes.length === 0) return true;
    const back = inverse(this.entries, changes);
    if (!(await this.#save(changes))) return false;
    this.#undo = [...this.#undo.slice(1 - undoSteps), { said, changes: back }];
    this.said = said;
    return true;
  }

  async #save(changes: Change[]): Promise<boolean> {
    try {
      await this.#event.save(...recordChanges(this.id, changes));
      this.failed = '';
      return true;
    } catch (error) {
      this.failed = `Nothing changed. ${error instanceof Error ? error.message : String(error)}`;
      return false;
    }
  }

  /** Takes the last own change back. Entries that others moved since stay where they put them. */
  async undo(): Promise<void> {
    const last = this.#undo.at(-1);
    if (!last) return;
    if (!(await this.#save(last.changes))) return;
    this.#undo = this.#undo.slice(0, -1);
    this.said = `Taken back: ${last.said}`;
  }

  move = (team: string, step: -1 | 1) =>
    this.#do(moveBy(this.entries, team, step), `${team} moved ${step < 0 ? 'up' : 'down'}`);
  top = (team: string) => this.#do(toTop(this.entries, team), `${team} moved to the top`);
  rank = (team: string, rank: number) =>
    this.#do(toRank(this.entries, team, rank), `${team} moved to place ${rank}`);
  section = (team: string, id: SectionId) =>
    this.#do(
      toSection(this.entries, team, id),
      id === 'none' ? `${team} has no tier now` : `${team} moved to tier ${id}`
    );
  drop = (team: string, id: SectionId, index: number) =>
    this.#do(place(this.entries, team, id, index), `${team} moved`);

  never = (team: string, reason: string) => {
    const changes = toSection(this.entries, team, 'never');
    const first = changes[0] ?? { team, set: {} };
    return this.#do(
      [{ team, set: { ...first.set, reason: reason || null } }, ...changes.slice(1)],
      `${team} is never to be picked`
    );
  };
  reason = (team: string, reason: string) =>
    this.#do([{ team, set: { reason: reason || null } }], `reason for ${team}`);
  note = (team: string, note: string) => this.#do([{ team, set: { note: note || null } }], `note on ${team}`);

  remove = (team: string) => this.#do([{ team, set: { removed: true } }], `${team} taken off the list`);
  add = (teams: readonly string[]) =>
    this.#do(
      append(this.entries, this.id, teams),
      teams.length === 1 ? `${teams[0]} added` : `${teams.length} robots added`
    );
  order = (figure: (team: string) => number | undefined) =>
    this.#do(orderBy(this.entries, figure), 'every tier ordered by what to expect next');

  async rename(name: string, purpose: string): Promise<void> {
    try {
      await this.#event.save({ kind: 'list', recordId: this.id, body: { name, purpose: purpose || null } });
      this.failed = '';
    } catch (error) {
      this.failed = `Not renamed. ${error instanceof Error ? error.message : String(error)}`;
    }
  }
}

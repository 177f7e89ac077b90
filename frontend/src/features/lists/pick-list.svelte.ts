// One pick list on the screen: its entries, what somebody does with them, and
// how to take it back.

import type { NoteBody } from '$lib/api';
import { newId } from '$lib/offline';
import type { EventState } from '$lib/state/event.svelte';
import { copyOf, inListOrder } from '$lib/state/lists';
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
  #turn: Promise<unknown> = Promise.resolve();
  /** Why the last change was not saved. */
  failed = $state('');
  /** What was done last, said to a screen reader. */
  said = $state('');

  readonly entries = $derived.by((): Entry[] => entriesOf(this.id, this.#event.records('entry')));
  readonly sections = $derived(sectionsOf(this.entries));
  readonly body = $derived.by(() => this.#event.record('list', this.id)?.body);
  /** When it was copied to stay as it was. */
  readonly frozen = $derived(this.body?.frozen);
  readonly canUndo = $derived.by(() => this.#undo.at(-1)?.said);

  constructor(event: EventState, id: string) {
    this.#event = event;
    this.id = id;
  }

  /**
   * Computes changes from the entries as they are when it is their turn, and
   * saves them: keys pressed faster than the disk writes still go one after the
   * other.
   */
  #do(compute: (entries: Entry[]) => Change[], said: string): Promise<boolean> {
    const done = this.#turn.then(async () => {
      if (this.frozen) {
        this.failed = 'This is a dated copy and stays as it was. Duplicate it to work on it.';
        return false;
      }
      const before = this.entries;
      const changes = compute(before);
      if (changes.length === 0) return true;
      if (!(await this.#save(changes))) return false;
      this.#undo = [...this.#undo.slice(1 - undoSteps), { said, changes: inverse(before, changes) }];
      this.said = said;
      return true;
    });
    this.#turn = done;
    return done;
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
  undo(): Promise<boolean> {
    const done = this.#turn.then(async () => {
      const last = this.#undo.at(-1);
      if (!last) return true;
      if (!(await this.#save(last.changes))) return false;
      this.#undo = this.#undo.slice(0, -1);
      this.said = `Taken back: ${last.said}`;
      return true;
    });
    this.#turn = done;
    return done;
  }

  move = (team: string, step: -1 | 1) =>
    this.#do((all) => moveBy(all, team, step), `${team} moved ${step < 0 ? 'up' : 'down'}`);
  top = (team: string) => this.#do((all) => toTop(all, team), `${team} moved to the top`);
  rank = (team: string, rank: number) =>
    this.#do((all) => toRank(all, team, rank), `${team} moved to place ${rank}`);
  section = (team: string, id: SectionId) =>
    this.#do(
      (all) => toSection(all, team, id),
      id === 'none' ? `${team} has no tier now` : `${team} moved to tier ${id}`
    );
  drop = (team: string, id: SectionId, index: number) =>
    this.#do((all) => place(all, team, id, index), `${team} moved`);

  never = (team: string, reason: string) =>
    this.#do((all) => {
      const [first, ...others] = toSection(all, team, 'never');
      return [{ team, set: { ...first?.set, reason: reason || null } }, ...others];
    }, `${team} is never to be picked`);
  note = (team: string, note: string) =>
    this.#do(() => [{ team, set: { note: note || null } }], `note on ${team}`);

  remove = (team: string) => this.#do(() => [{ team, set: { removed: true } }], `${team} taken off the list`);
  add = (teams: readonly string[]) =>
    this.#do(
      (all) => append(all, this.id, teams),
      teams.length === 1 ? `${teams[0]} added` : `${teams.length} robots added`
    );
  order = (figure: (team: string) => number | undefined) =>
    this.#do((all) => orderBy(all, figure), 'every tier ordered by what to expect next');

  /** Any other change of entries, computed when it is its turn. */
  change = (compute: (all: Entry[]) => Change[], said: string) => this.#do(compute, said);

  /** Says something of a robot on this list: own words, or pinned ones of a scout. */
  comment = (said: Pick<NoteBody, 'team' | 'text' | 'match' | 'scout'>): Promise<boolean> =>
    this.#note(newId(), { ...said, list: this.id });
  uncomment = (id: string): Promise<boolean> => this.#note(id, { removed: true });

  async #note(recordId: string, body: Partial<NoteBody>): Promise<boolean> {
    try {
      await this.#event.save({ kind: 'note', recordId, body });
      this.failed = '';
      return true;
    } catch (error) {
      this.failed = `Nothing changed. ${error instanceof Error ? error.message : String(error)}`;
      return false;
    }
  }

  /** Copies the list as it stands, to go on from it or (`frozen`) to stay so. Returns the id of the copy. */
  async copy(body: { name: string; purpose?: string; frozen?: string }): Promise<string | undefined> {
    const id = newId();
    const entries = inListOrder(this.id, this.#event.bodies('entry'));
    try {
      await this.#event.save(...copyOf(entries, id, body));
      this.failed = '';
      return id;
    } catch (error) {
      this.failed = `Not copied. ${error instanceof Error ? error.message : String(error)}`;
      return undefined;
    }
  }

  async rename(name: string, purpose: string): Promise<void> {
    try {
      await this.#event.save({ kind: 'list', recordId: this.id, body: { name, purpose: purpose || null } });
      this.failed = '';
    } catch (error) {
      this.failed = `Not renamed. ${error instanceof Error ? error.message : String(error)}`;
    }
  }
}

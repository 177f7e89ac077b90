/** What a lead sets of the rota, the plan that was asked for, and how it comes into force. */
import {
  planRota,
  rotaGoals,
  sayError,
  type Match,
  type RotaBody,
  type RotaGoals,
  type RotaPlan
} from '$lib/api';
import { counted } from '$lib/figures';
import { rotaId } from '$lib/offline';
import type { EventState } from '$lib/state/event.svelte';
import { untrack } from 'svelte';
import { changesOf, readShifts, usual, wrongWith } from './plan';
import { withWeight, wrongWeight, type Goal } from './goals';

/** Matches whose seats stay when a plan is made anew: their scouts are on their way. */
export const KEPT = 2;

export class Draft {
  readonly #event: EventState;
  readonly #from: () => string | undefined;
  readonly #matches: () => readonly Match[];

  rota = $state<RotaBody>({ people: [], seats: 1 });
  /** What others set comes in as long as nothing was changed here. */
  #touched = $state(false);
  plan = $state.raw<RotaPlan | undefined>();
  busy = $state(false);
  failed = $state('');
  said = $state('');
  /** What counts how much when nothing is said; undefined: the server has not told. */
  usual = $state.raw<RotaGoals | undefined>();
  shiftText = $state<Record<string, string>>({});
  #wrongShift = $state<Record<string, string>>({});
  #wrongWeight = $state<Partial<Record<Goal, string>>>({});

  readonly stored = $derived.by(() => this.#event.record('rota', rotaId(this.#event.id)));
  readonly wrong = $derived.by(
    () =>
      Object.values(this.#wrongShift).find(Boolean) ??
      Object.values(this.#wrongWeight).find(Boolean) ??
      wrongWith(
        this.rota,
        this.#matches().map((m) => m.match)
      )
  );
  /** What putting the plan in force would change. */
  readonly changes = $derived.by(() => {
    const from = this.#from();
    return this.plan && from ? changesOf(this.#event.id, this.plan, from, this.#event.bodies('seat')) : [];
  });

  /** To be made while a component is. */
  constructor(event: EventState, from: () => string | undefined, matches: () => readonly Match[]) {
    this.#event = event;
    this.#from = from;
    this.#matches = matches;
    $effect(() => {
      const robots = event.game?.alliance.robots ?? 3;
      const fresh = this.stored?.body ?? { ...usual(robots), seats: event.game?.seats ?? 2 * robots };
      if (!untrack(() => this.#touched)) this.rota = structuredClone($state.snapshot(fresh)) as RotaBody;
    });
  }

  get from(): string | undefined {
    return this.#from();
  }

  /** Asks the server what is usual; without a network it stays unknown. */
  async learnUsual(): Promise<void> {
    this.usual ??= await rotaGoals(this.#event.id).catch(() => undefined);
  }

  change(work: () => void): void {
    this.#touched = true;
    this.plan = undefined;
    this.said = '';
    work();
  }

  add(scout: string): void {
    const name = scout.trim();
    if (name && !this.rota.people.some((p) => p.scout === name))
      this.change(() => this.rota.people.push({ scout: name }));
  }

  takeOut(scout: string): void {
    this.change(() => {
      this.rota.people = this.rota.people.filter((p) => p.scout !== scout);
      delete this.#wrongShift[scout];
      delete this.shiftText[scout];
    });
  }

  setAway(scout: string, away: boolean): void {
    this.add(scout);
    this.change(() => {
      const person = this.rota.people.find((p) => p.scout === scout);
      if (person && away) person.away = true;
      else delete person?.away;
    });
  }

  setShifts(scout: string, text: string): void {
    const read = readShifts(text);
    this.shiftText[scout] = text;
    this.change(() => {
      this.#wrongShift[scout] = typeof read === 'string' ? `${scout}: ${read}` : '';
      const person = this.rota.people.find((p) => p.scout === scout);
      if (!person || typeof read === 'string') return;
      if (read.length > 0) person.shifts = read;
      else delete person.shifts;
    });
  }

  shiftWrong(scout: string): boolean {
    return Boolean(this.#wrongShift[scout]);
  }

  /** undefined: the usual; NaN: what was typed is no number. */
  setWeight(goal: Goal, value: number | undefined): void {
    this.change(() => {
      this.#wrongWeight[goal] =
        value === undefined ? '' : wrongWeight(goal, value, this.usual?.most ?? Infinity);
      if (this.#wrongWeight[goal]) return;
      const weights = withWeight(this.rota.weights, goal, value, this.usual?.weights);
      if (weights) this.rota.weights = weights;
      else delete this.rota.weights;
    });
  }

  weightWrong(goal: Goal): boolean {
    return Boolean(this.#wrongWeight[goal]);
  }

  usualWeights(): void {
    this.change(() => {
      this.#wrongWeight = {};
      delete this.rota.weights;
    });
  }

  async #act(work: () => Promise<void>, otherwise: string): Promise<void> {
    this.busy = true;
    this.failed = '';
    try {
      await work();
    } catch (error) {
      this.failed = `${otherwise} ${sayError(error)}`;
    } finally {
      this.busy = false;
    }
  }

  ask(): Promise<void> {
    return this.#act(async () => {
      const from = this.#from();
      if (!from) return;
      this.said = '';
      this.plan = await planRota(this.#event.id, { ...$state.snapshot(this.rota), from, keep: KEPT });
    }, 'No plan was made; what is in force stays.');
  }

  use(): Promise<void> {
    return this.#act(async () => {
      const changes = this.changes;
      if (!this.plan) return;
      await this.#event.save(
        { kind: 'rota', recordId: rotaId(this.#event.id), body: $state.snapshot(this.rota) },
        ...changes
      );
      this.#touched = false;
      this.plan = undefined;
      this.said = `In force: ${counted(changes.length, 'seat')} changed. Tablets that have no network hear of it when they meet one.`;
    }, 'Not put in force.');
  }
}

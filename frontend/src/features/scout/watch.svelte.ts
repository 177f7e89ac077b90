/** The form of one robot in one match while it is filled in. */
import type { Observation } from '$lib/api';
import { clockText, matchLength, nowAt } from '$lib/game/clock';
import * as sheets from '$lib/game/sheet';
import type { Entry, Sheet } from '$lib/game/sheet';
import type { Action, Game } from '$lib/game/types';
import { draft, dropDraft, keepDraft, observationId } from '$lib/offline';
import type { EventState } from '$lib/state/event.svelte';

/** The page for questions, note and corrections. */
export const FINISH = 'finish';
const STRIP = 10;
const TICK_MS = 200;

export const draftKey = (s: Pick<Sheet, 'match' | 'play' | 'team'>): string =>
  `${s.match}/${s.play}/${s.team}`;

export class Watch {
  sheet = $state.raw() as Sheet;
  /** Page chosen by hand until the clock reaches the next one; undefined: the clock leads. */
  #chosen = $state<{ page: string; at: string } | undefined>();
  #now = $state(Date.now());

  readonly game: Game;
  readonly pages: { id: string; name: string }[];
  readonly #tappable: Set<string>;
  readonly #length: number;
  #writing: Promise<void> | undefined;
  #dirty = false;
  #closed = false;

  readonly elapsed = $derived.by(() =>
    this.sheet.started === undefined ? undefined : this.#now - this.sheet.started
  );
  readonly clock = $derived.by(() => nowAt(this.game, this.elapsed ?? 0));
  readonly page = $derived.by(() =>
    this.#chosen?.at === this.clock.page ? this.#chosen.page : this.clock.page
  );
  readonly strip = $derived.by(() => sheets.recent(this.sheet, this.#tappable, STRIP));

  constructor(
    readonly event: EventState,
    game: Game,
    sheet: Sheet
  ) {
    this.game = game;
    this.sheet = sheet;
    this.#tappable = sheets.tappable(game);
    this.#length = matchLength(game);
    this.pages = game.periods.filter((p) => !p.within);
  }

  /** Opens the draft of this robot, or an empty form. */
  static async open(
    event: EventState,
    game: Game,
    match: string,
    play: number,
    team: string
  ): Promise<Watch> {
    const scout = event.summary?.nickname ?? '';
    const fresh = sheets.emptySheet(match, play, team, scout);
    const kept = await draft<Sheet>(event.id, draftKey(fresh));
    return new Watch(event, game, kept ? { ...kept, scout } : fresh);
  }

  /** Keeps the clock going; returns the way to stop. */
  run(): () => void {
    const timer = setInterval(() => (this.#now = Date.now()), TICK_MS);
    return () => clearInterval(timer);
  }

  /** `1:22`, what is left of the period; before the start the whole match. */
  get clockText(): string {
    return clockText(this.elapsed === undefined ? this.#length : this.clock.left);
  }

  /** When a tap was made, as time left on the match's own clock. */
  timeOf(entry: Entry): string {
    return clockText(nowAt(this.game, Math.max(0, entry.at - (this.sheet.started ?? entry.at))).left);
  }

  count = (id: string): number => sheets.countOf(this.sheet, id);
  said = (id: string): boolean => sheets.touched(this.sheet, id);
  chosen = (action: Action): sheets.Chosen => sheets.chosenOf(this.sheet, action);
  isOn = (question: string): boolean => sheets.isOn(this.sheet, question);

  /** Seconds of a question so far; with undefined what is left for scoring. */
  seconds(question: string | undefined): number {
    const end = Math.min(this.#length, this.elapsed ?? 0);
    if (question !== undefined) return sheets.secondsOf(this.sheet, question, end);
    const rest = sheets
      .doings(this.game)
      .reduce((sum, q) => sum + sheets.secondsOf(this.sheet, q.id, end), 0);
    return Math.max(0, Math.round(end / 1000) - rest);
  }

  show(page: string): void {
    this.#chosen = { page, at: this.clock.page };
  }

  start(): void {
    this.change((s, at) => sheets.start(s, at));
  }
  nudge(seconds: number): void {
    this.change((s) => sheets.nudge(s, seconds * 1000));
  }
  tap(id: string, step = 1): void {
    navigator.vibrate?.(15);
    this.change((s, at) => sheets.tap(s, at, id, step));
  }
  flip(id: string): void {
    navigator.vibrate?.(15);
    this.change((s, at) => sheets.tap(s, at, id, sheets.countOf(s, id) > 0 ? -1 : 1));
  }
  takeBack(entry: Entry): void {
    navigator.vibrate?.([10, 40, 10]);
    this.change((s, at) => sheets.takeBack(s, at, entry));
  }
  choose(action: Action, option: string): void {
    navigator.vibrate?.(15);
    const same = this.chosen(action).option === option;
    this.change((s, at) => sheets.choose(s, at, action, same ? undefined : option));
  }
  tried(action: Action): void {
    this.change((s, at) => sheets.setTried(s, at, action, !this.chosen(action).tried));
  }
  doing(question: string | undefined): void {
    this.change((s, at) => sheets.nowDoing(s, at, this.game, question));
  }
  toggle(question: string): void {
    this.change((s, at) => sheets.toggle(s, at, question));
  }

  /** Any change of the sheet; the draft follows at once. */
  change(by: (s: Sheet, at: number) => Sheet): void {
    const at = Date.now();
    this.#now = at;
    this.sheet = by(this.sheet, at);
    void this.#keep();
  }

  /** Writes the newest state, one write at a time: taps are faster than a disk. */
  async #keep(): Promise<void> {
    this.#dirty = true;
    this.#writing ??= (async () => {
      while (this.#dirty && !this.#closed) {
        this.#dirty = false;
        await keepDraft(this.event.id, draftKey(this.sheet), this.sheet).catch((e: unknown) =>
          console.error(e)
        );
      }
    })().finally(() => (this.#writing = undefined));
    await this.#writing;
  }

  /** Milliseconds since the start at which the watching ended, or stands now. */
  get end(): number {
    return Math.min(this.#length, this.elapsed ?? this.#length);
  }

  /** Puts the record into the local database and drops the draft. */
  async save(): Promise<void> {
    const s = this.sheet;
    const body = sheets.observed(
      this.game,
      s,
      Math.min(this.#length, this.elapsed ?? this.#length)
    ) as Observation;
    await this.event.save({
      kind: 'observation',
      recordId: observationId(this.event.id, s.match, s.play, s.team, s.scout),
      body
    });
    this.#closed = true;
    await this.#writing;
    await dropDraft(this.event.id, draftKey(s));
  }

  /** Throws the form away. */
  async discard(): Promise<void> {
    this.#closed = true;
    await this.#writing;
    await dropDraft(this.event.id, draftKey(this.sheet));
  }
}

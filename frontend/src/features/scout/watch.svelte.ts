/** The form of one robot in one match while it is filled in. */
import type { Observation } from '$lib/api';
import { clockText, matchLength, nowAt } from '$lib/game/clock';
import * as handover from '$lib/game/handover';
import { observed } from '$lib/game/observed';
import * as sheets from '$lib/game/sheet';
import type { Entry, Sheet, Spot } from '$lib/game/sheet';
import type { Action, Foul, Game } from '$lib/game/types';
import { draft, dropDraft, keepDraft, keepDraftAtOnce, observationId } from '$lib/offline';
import type { EventState } from '$lib/state/event.svelte';
import { afterFrame, afterPaint } from './after-paint';
import { Face } from './face.svelte';

/** The page for questions, note and corrections. */
export const FINISH = 'finish';
const STRIP = 10;
const TICK_MS = 200;
/** How often a form that is open says so on the disk: after a dead battery it tells until when it was on. */
const BEAT_MS = 5_000;
/** So long after a tap its place can be shown on the field; by keyboard it takes longer to get there. */
const PLACE_MS = 10_000;
const PLACE_BY_KEY_MS = 60_000;
/** So long after the last touch, or the end, the screen may dim. */
const AWAKE_MS = 120_000;

/** A sheet as it lies on the disk. */
type Kept = Sheet & { seen?: number };

/** What becomes of what was tapped when another robot is meant. */
export type Meant = 'was-it' | 'was-other' | 'drop';

export const draftKey = (s: Pick<Sheet, 'match' | 'play' | 'team'>): string =>
  `${s.match}/${s.play}/${s.team}`;

export class Watch {
  #sheet: Sheet;
  /** Goes up when the screens are told of the sheet; a tap shows its own card first. */
  #told = $state(0);
  /** The rest of the screens wait for the frame that shows a tap; calls the wait off. */
  #rest: (() => void) | undefined;
  readonly #faces: Map<string, Face>;
  /** Page chosen by hand until the clock reaches the next one; undefined: the clock leads. */
  #chosen = $state<{ page: string; at: string } | undefined>();
  #now = $state(Date.now());

  readonly game: Game;
  readonly pages: { id: string; name: string }[];
  readonly #tappable: Set<string>;
  readonly #length: number;
  #writing: Promise<void> | undefined;
  #dirty = false;
  /** A change waits to be written; calls the wait off. */
  #soon: (() => void) | undefined;
  #closed = false;
  #touched = $state(Date.now());
  #beat = 0;
  /** The panel that sets the clock is open. */
  nudging = $state(false);
  /** The tablet was off while the match ran, and nobody said yet what that means. */
  gap = $state.raw<handover.Gap | undefined>();

  readonly started = $derived.by(() => this.sheet.started);
  readonly elapsed = $derived.by(() => (this.started === undefined ? undefined : this.#now - this.started));
  readonly clock = $derived.by(() => nowAt(this.game, this.elapsed ?? 0));
  /** What changes seldom stands apart from the clock, so that a tick does not ask every card. */
  readonly period = $derived.by(() => this.clock.period);
  readonly page = $derived.by(() =>
    this.#chosen?.at === this.clock.page ? this.#chosen.page : this.clock.page
  );
  /** The screen stays on: a match runs, or somebody has just done something. */
  readonly awake = $derived.by(() => {
    const end = this.started === undefined ? 0 : this.started + this.#length;
    return this.#now - Math.max(this.#touched, end) < AWAKE_MS;
  });
  readonly strip = $derived.by(() => sheets.recent(this.sheet, this.#tappable, STRIP));

  constructor(
    readonly event: EventState,
    game: Game,
    sheet: Sheet
  ) {
    this.game = game;
    this.#sheet = sheet;
    this.#faces = new Map([...game.actions, ...(game.fouls ?? [])].map((t) => [t.id, new Face(t, sheet)]));
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
    const kept = await draft<Kept>(event.id, draftKey(fresh));
    if (!kept) return new Watch(event, game, fresh);
    const { seen, ...sheet } = kept;
    const watch = new Watch(event, game, { ...sheet, scout });
    const gap = handover.gapOf(sheet, watch.#length, seen, Date.now());
    if (gap && sheet.to === undefined) {
      watch.gap = gap;
      // Nothing can have been tapped since: the record ends there, unless the scout says otherwise.
      if (gap.over) watch.change((s) => handover.handOn(s, gap.from));
    }
    return watch;
  }

  /** Keeps the clock going; returns the way to stop. */
  run(): () => void {
    const timer = setInterval(() => {
      this.#now = Date.now();
      const running = this.sheet.started !== undefined && !this.clock.over;
      if (running && this.#now - this.#beat > BEAT_MS) void this.#keep();
    }, TICK_MS);
    // The last chance: the page is put away, closed or loaded again.
    const hide = () => this.#putAway();
    addEventListener('pagehide', hide);
    document.addEventListener('visibilitychange', hide);
    return () => {
      clearInterval(timer);
      removeEventListener('pagehide', hide);
      document.removeEventListener('visibilitychange', hide);
      if (!(this.#rest || this.#soon)) return;
      // Nobody is left to be told.
      this.#rest?.();
      this.#rest = undefined;
      this.#flush();
    };
  }

  /** `1:22`, what is left of the period; before the start the whole match. */
  get clockText(): string {
    return clockText(this.elapsed === undefined ? this.#length : this.clock.left);
  }

  /** When a tap was made, as time left on the match's own clock. */
  timeOf(entry: Entry): string {
    return clockText(nowAt(this.game, Math.max(0, entry.at - (this.started ?? entry.at))).left);
  }

  /** What was entered, the last tap too. */
  get sheet(): Sheet {
    void this.#told;
    return this.#sheet;
  }
  /** What a card shows: of an action or a foul. */
  face(thing: Action | Foul): Face {
    return this.#faces.get(thing.id) ?? new Face(thing, this.#sheet);
  }
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
    this.#buzz();
    this.#tap(id, (s, at) => sheets.tap(s, at, id, step));
  }
  /** Begins a batch that goes on while a finger holds; returns the way to make it larger. */
  batch(id: string, step: number, at: number): (total: number) => void {
    this.#buzz();
    this.#tap(id, (s) => sheets.tap(s, at, id, step));
    const index = this.#sheet.entries.length - 1;
    return (total) => {
      const entry = this.#sheet.entries[index];
      if (entry?.id === id && total > entry.step) this.#tap(id, (s) => sheets.grow(s, entry, total));
    };
  }
  flip(id: string): void {
    this.#buzz();
    this.#tap(id, (s, at) => sheets.tap(s, at, id, sheets.countOf(s, id) > 0 ? -1 : 1));
  }
  takeBack(entry: Entry): void {
    this.#buzz([10, 40, 10]);
    this.change((s, at) => sheets.takeBack(s, at, entry));
  }
  choose(action: Action, option: string): void {
    this.#buzz();
    const same = sheets.chosenOf(this.#sheet, action).option === option;
    this.#tap(action.id, (s, at) => sheets.choose(s, at, action, same ? undefined : option));
  }
  tried(action: Action): void {
    this.#buzz();
    this.#tap(action.id, (s, at) => sheets.setTried(s, at, action, !sheets.chosenOf(s, action).tried));
  }
  doing(question: string | undefined): void {
    this.#buzz();
    this.change((s, at) => sheets.nowDoing(s, at, this.game, question));
  }
  toggle(question: string): void {
    this.#buzz();
    this.change((s, at) => sheets.toggle(s, at, question));
  }

  #buzz(pattern: number | number[] = 15): void {
    // Asking the device takes longer than counting; the frame comes first.
    setTimeout(() => navigator.vibrate?.(pattern));
  }

  /** The tap whose place a touch of the field tells; undefined: none, or too long ago. */
  readonly placing = $derived.by(() => this.#tapWithin(PLACE_MS));
  readonly placingByKey = $derived.by(() => this.#tapWithin(PLACE_BY_KEY_MS));
  #tapWithin(ms: number): Entry | undefined {
    const [last] = this.strip;
    return last && this.#now - last.at < ms ? last : undefined;
  }
  /** The place of a tap was shown, or before any that of the start. */
  putAt(place: Spot, byKey = false): void {
    this.#settle();
    const entry = byKey ? this.placingByKey : this.placing;
    if (!entry && !this.placesStart) return;
    this.#buzz();
    this.change((s) => (entry ? sheets.putAt(s, entry, place) : { ...s, startSpot: place }));
  }
  /** A touch of the field tells where the robot starts. */
  readonly placesStart = $derived.by(
    () => sheets.startQuestion(this.game) !== undefined && this.clock.page === this.pages[0]?.id
  );
  /** Places of the taps that stand; misses apart. */
  readonly spots = $derived.by(() =>
    sheets.recent(this.sheet, this.#tappable, Infinity).flatMap((e) => (e.place ? [e] : []))
  );

  /** The match runs already: this scout watches from here on, and sets the clock. */
  takeOver(): void {
    this.change((s, at) => handover.takeOver(this.game, s, at));
    this.nudging = true;
  }
  /** All of it was watched, whatever the tablet thinks. */
  whole(): void {
    this.gap = undefined;
    this.change(handover.whole);
  }
  /** What went on while the tablet was off was not seen. */
  missed(): void {
    const gap = this.gap;
    this.gap = undefined;
    const sight = sheets.lostSight(this.game);
    if (!gap || gap.over) return;
    if (sight) this.change((s) => sheets.away(s, sight.id, gap.from, gap.to));
    else {
      const since = (at: number) => clockText(at - (this.sheet.started ?? at));
      const text = `not watched from ${since(gap.from)} to ${since(gap.to)} after the start`;
      this.change((s) => ({ ...s, note: s.note ? `${s.note}; ${text}` : text }));
    }
  }

  /** Somebody else goes on: what was watched until now is saved. */
  async handOn(): Promise<void> {
    this.change(handover.handOn);
    await this.save();
  }

  /** Another robot is meant; its form opens with the same clock. */
  async switchTo(team: string, meant: Meant): Promise<void> {
    const now = Date.now();
    const old = this.sheet;
    const next = meant === 'was-it' ? { ...old, team } : handover.goOnWith(old, now, team);
    await keepDraft(this.event.id, draftKey(next), { ...next, seen: now });
    if (meant === 'was-other' && old.started !== undefined) await this.handOn();
    else await this.discard();
  }

  /** It is another play of the match. */
  async setPlay(play: number): Promise<void> {
    const next = { ...this.sheet, play };
    await keepDraft(this.event.id, draftKey(next), { ...next, seen: Date.now() });
    await this.discard();
  }

  /** Any change of the sheet; the draft follows as soon as the change is painted. */
  change(by: (s: Sheet, at: number) => Sheet): void {
    this.#sheet = by(this.#sheet, Date.now());
    for (const face of this.#faces.values()) face.show(this.#sheet);
    this.#tell();
    this.#soon ??= afterPaint(() => this.#flush());
  }

  /**
   * A tap on a card: at once it is kept in the sheet and shown on that card. What else shows it
   * (the strip, the clock, the field) follows as soon as that frame is drawn, and then the draft.
   */
  #tap(id: string, by: (s: Sheet, at: number) => Sheet): void {
    this.#sheet = by(this.#sheet, Date.now());
    this.#faces.get(sheets.subject(id))?.show(this.#sheet);
    this.#rest ??= afterFrame(() => this.#settle());
  }

  /** Does at once what waits for the frame of a tap. */
  #settle(): void {
    if (!this.#rest) return;
    this.#tell();
    this.#soon ??= afterPaint(() => this.#flush());
  }

  /** Tells the screens of the sheet as it stands, now. */
  #tell(): void {
    this.#rest?.();
    this.#rest = undefined;
    this.#now = this.#touched = Date.now();
    this.#told++;
  }

  /** The page may be gone before the disk has answered. */
  #putAway(): void {
    this.#settle();
    if (this.#closed || !(this.#soon || this.#writing)) return;
    keepDraftAtOnce(this.event.id, draftKey(this.sheet), this.#kept());
    this.#flush();
  }

  #kept(): Kept {
    this.#beat = Date.now();
    return { ...this.sheet, seen: this.#beat };
  }

  /** Writes what has not been written, now. */
  #flush(): void {
    this.#soon?.();
    this.#soon = undefined;
    void this.#keep();
  }

  /** Writes the newest state, one write at a time: taps are faster than a disk. */
  async #keep(): Promise<void> {
    this.#dirty = true;
    this.#writing ??= (async () => {
      while (this.#dirty && !this.#closed) {
        this.#dirty = false;
        await keepDraft(this.event.id, draftKey(this.sheet), this.#kept()).catch((e: unknown) =>
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
    this.#tell();
    const s = this.sheet;
    const body = observed(this.game, s, Math.min(this.#length, this.elapsed ?? this.#length)) as Observation;
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

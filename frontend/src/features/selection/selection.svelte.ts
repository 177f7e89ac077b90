// The board on the screen: the moves that this device knows, what somebody does
// with them, the advice of the server, and a rehearsal apart from all that.

import {
  advise,
  analysis,
  NoAnswer,
  sayError,
  type Advice,
  type Knowledge,
  type Pin,
  type RehearsalBody
} from '$lib/api';
import { meta, newId, pinId, setMeta } from '$lib/offline';
import { compareTeams } from '$lib/figures';
import type { EventState } from '$lib/state/event.svelte';
import { Kept as KeptAnswer } from '$lib/state/kept.svelte';
import { stoppedLast } from '$lib/state/stopped';
import { inOurOrder, listsOf, neverOf, markFor, warningsFor, type OrderBy } from './order';
import { drawMove } from './others';
import { keepProgram, Reckoner } from './reckon';
import { keptRehearsal, type RehearsedCall } from './rehearsals';
import {
  Board,
  moveOf,
  nextStep,
  replay,
  rulesOf,
  toTakeBack,
  type Answer,
  type Entry,
  type Move
} from './replay';

/** What is kept of the board on this device, beside the moves. */
interface Kept {
  /** The ranking by the results, as the server last said. */
  standings?: string[];
  /** The venue's own ranking, given here. */
  given?: string[];
  order?: OrderBy;
  /** here: this device worked it out, not the server. */
  advice?: { value: Advice; at: string; key: string; here?: boolean };
}

/** How long to wait before the server is asked again after no answer. */
const RETRY_MS = 4_000;
/** How long the server may take for its first word before this device begins. */
const PATIENCE_MS = 2_000;

export class SelectionState {
  readonly #event: EventState;
  readonly #key: string;
  readonly #knowledge: KeptAnswer<Knowledge>;
  readonly #reckoner = new Reckoner();
  #kept = $state.raw<Kept>({});
  /** Our calls of a rehearsal beside the best ones, by the id of the move. */
  readonly #calls = new Map<string, RehearsedCall>();
  /** What is kept here was read. */
  read = $state(false);
  /** The moves of a rehearsal; undefined: it is for real. */
  rehearsal = $state.raw<Entry[] | undefined>();
  /** Why the last move was not made. */
  refusal = $state('');
  /** What was done last, said to a screen reader. */
  said = $state('');
  /** Why there is no newer advice. */
  adviceFailed = $state('');
  /** The server did not answer when it was last asked. */
  alone = $state(false);
  asking = $state(false);
  /** When the turn on the clock began, in milliseconds of this device; undefined: not seen. */
  turnBegan = $state<number | undefined>();

  readonly rules = $derived.by(() => rulesOf(this.#event.game?.selection));
  readonly seconds = $derived.by(() => this.#event.game?.selection?.seconds ?? 0);
  readonly ranking = $derived(this.#kept.given ?? this.#kept.standings ?? []);
  readonly given = $derived(this.#kept.given !== undefined);
  /** What was heard of how captains will choose, with who wrote it down last. */
  readonly heard = $derived.by(() =>
    this.#event
      .records('pin')
      .filter((r) => !r.body.removed)
      .map((r) => ({
        id: r.record_id,
        pin: { captain: r.body.captain, team: r.body.team, kind: r.body.kind },
        author: r.revisions.find((v) => v.revision_id === r.head)?.author ?? '',
        conflict: r.conflict
      }))
      .sort((a, b) => compareTeams(a.pin.captain, b.pin.captain) || compareTeams(a.pin.team, b.pin.team))
  );
  readonly pins = $derived.by((): Pin[] => this.heard.map((h) => h.pin));
  readonly start = $derived.by(() => Board.start(this.rules, this.ranking));
  readonly log = $derived.by(
    (): Entry[] =>
      this.rehearsal ?? this.#event.records('selection').map((r) => ({ ...r.body, id: r.record_id }))
  );
  readonly now = $derived.by(() =>
    typeof this.start === 'string' ? undefined : replay(this.start, this.log)
  );
  readonly board = $derived(this.now?.board);
  readonly made = $derived(this.now?.made ?? []);
  /** Moves that do not count and that somebody should look at. */
  readonly refused = $derived((this.now?.refused ?? []).filter((r) => !r.repeats));
  readonly turn = $derived(this.board?.turn());
  /** Rehearsals that were kept, the one that ended best for us first. */
  readonly rehearsals = $derived.by(() =>
    this.#event
      .records('rehearsal')
      .filter((r) => !r.body.removed)
      .map((r) => keptRehearsal(r.record_id, r.body, this.rules, r.revisions[0]?.author ?? ''))
      .sort((a, b) => (b.end ?? -1) - (a.end ?? -1) || (a.body.name < b.body.name ? -1 : 1))
  );
  readonly our = $derived.by(() => this.#event.ourTeam);
  readonly ourAlliance = $derived(this.our ? (this.board?.allianceOf(this.our) ?? 0) : 0);
  readonly ourTurn = $derived(this.turn !== undefined && this.turn.alliance === this.ourAlliance);
  readonly mayWrite = $derived.by(() => this.#event.role === 'lead' || this.rehearsal !== undefined);

  readonly lists = $derived.by(() => listsOf(this.#event.records('list'), this.#event.records('entry')));
  readonly never = $derived.by(() => neverOf(this.lists, this.#event.records('entry')));
  readonly stopped = $derived.by(() => stoppedLast(this.#event.bodies('observation'), this.#event.game));
  readonly estimates = $derived.by(
    () => new Map((this.#event.analysis.estimates?.teams ?? []).map((e) => [e.team, e.now]))
  );
  readonly orderBy = $derived(
    this.#kept.order &&
      (['worth', 'next'].includes(this.#kept.order) || this.lists.some((l) => l.id === this.#kept.order))
      ? this.#kept.order
      : 'worth'
  );
  /** Who is left, in our order; those who declined stand among them. */
  readonly left = $derived.by(() => {
    const board = this.board;
    if (!board) return [];
    const pool = new Set([...board.pool(), ...board.declined().filter((t) => board.allianceOf(t) === 0)]);
    if (this.our) pool.delete(this.our);
    return inOurOrder([...pool], this.orderBy, {
      lists: this.lists,
      advice: this.advice,
      now: (t) => this.estimates.get(t)
    });
  });

  /** What the advice has to be for. */
  readonly key = $derived.by(() =>
    JSON.stringify([this.made.map(moveOf), this.ranking, this.pins, [...this.never.keys()], this.our])
  );
  readonly advice = $derived(this.#kept.advice?.value);
  /** The advice is this device's own. */
  readonly adviceHere = $derived(this.#kept.advice?.here === true);
  readonly adviceAt = $derived(this.#kept.advice?.at);
  readonly adviceIsForNow = $derived(this.#kept.advice?.key === this.key);

  constructor(event: EventState) {
    this.#event = event;
    this.#key = `selection/${event.id}`;
    this.#knowledge = new KeptAnswer<Knowledge>(event.id, 'knowledge', analysis.knowledge);
  }

  /** Reads what is kept, and asks for the ranking. */
  async load(): Promise<void> {
    this.#kept = (await meta<Kept>(this.#key)) ?? {};
    this.read = true;
    await this.refreshRanking();
  }

  async refreshRanking(): Promise<void> {
    try {
      const { value } = await analysis.standings(this.#event.id);
      if (value) await this.#keep({ standings: value.ranking.map((r) => r.team) });
      this.alone = false;
    } catch (error) {
      if (error instanceof NoAnswer) this.alone = true;
      else this.adviceFailed = sayError(error);
    }
  }

  async #keep(change: Partial<Kept>): Promise<void> {
    this.#kept = { ...this.#kept, ...change };
    try {
      await setMeta(this.#key, $state.snapshot(this.#kept));
    } catch {
      // The disk is full: it is on the screen all the same, and moves say it themselves.
    }
  }

  giveRanking = (given: string[] | undefined) => this.#keep({ given });
  chooseOrder = (order: OrderBy) => this.#keep({ order });
  /** Writes down what was heard, or that it does not hold; throws what speaks against it. */
  note = (pin: Pin, removed = false): Promise<void> =>
    this.#event.save({
      kind: 'pin',
      recordId: pinId(this.#event.id, pin.captain, pin.team),
      body: { ...pin, ...(removed && { removed }) }
    });

  readonly #against = $derived({ never: this.never, stopped: this.stopped, pins: this.pins });
  warnings = (team: string): string[] => warningsFor(team, this.our, this.#against);
  mark = (team: string): string => markFor(team, this.our, this.#against);

  /** An answer to the captain on the clock. Without a team: the captain itself, or nobody is left. */
  answer(answer: Answer, team?: string): Promise<boolean> {
    const turn = this.turn;
    if (!turn) {
      this.refusal = 'All picks are made.';
      return Promise.resolve(false);
    }
    return this.#make({
      captain: turn.captain,
      round: turn.round,
      answer,
      ...(team && { invites: team })
    });
  }

  /** A backup's answer to a captain, after all picks. */
  backup(captain: string, team: string, answer: Answer): Promise<boolean> {
    return this.#make({ captain, invites: team, answer, backup: true });
  }

  async #make(move: Move): Promise<boolean> {
    const board = this.board;
    if (!board || !this.mayWrite) return false;
    const rule = board.clone().move(move);
    if (rule) {
      this.refusal = sayRefusal(move, rule);
      return false;
    }
    const body = { step: nextStep(this.log), ...move };
    if (this.rehearsal) {
      const id = newId();
      const call = this.ourTurn && move.answer === 'accepts' && move.invites;
      if (call && this.adviceIsForNow) this.#beside(id, call);
      this.rehearsal = [...this.rehearsal, { ...body, id }];
    } else if (!(await this.#save([{ id: newId(), body }]))) return false;
    this.refusal = '';
    this.said = sayMove(move);
    return true;
  }

  /** Takes moves back, so that the first `keep` of those that count are left. */
  async backTo(keep: number): Promise<void> {
    if (typeof this.start === 'string' || !this.mayWrite) return;
    const ids = new Set(toTakeBack(this.start, this.log, keep));
    if (ids.size === 0) return;
    const last = this.made[keep];
    if (this.rehearsal) this.rehearsal = this.rehearsal.filter((e) => !ids.has(e.id));
    else {
      const gone = this.log.filter((e) => ids.has(e.id));
      if (!(await this.#save(gone.map(({ id, ...body }) => ({ id, body: { ...body, removed: true } })))))
        return;
    }
    this.refusal = '';
    if (last) this.said = `Taken back: ${sayMove(moveOf(last))}`;
  }

  undo = () => this.backTo(this.made.length - 1);

  /** Takes one entry off that does not count. */
  drop(entry: Entry): void {
    const { id, step, captain, invites, answer, backup, round } = entry;
    const body = { step, captain, invites, answer, backup, round, removed: true };
    void this.#save([{ id, body }]);
  }

  async #save(moves: { id: string; body: Omit<Entry, 'id'> }[]): Promise<boolean> {
    try {
      await this.#event.save(
        ...moves.map(({ id, body }) => ({ kind: 'selection' as const, recordId: id, body }))
      );
      return true;
    } catch (error) {
      this.refusal = `Not saved. ${sayError(error)}`;
      return false;
    }
  }

  /** Remembers what the advice said of a call of ours in a rehearsal, beside the best one. */
  #beside(move: string, team: string): void {
    const candidates = this.advice?.candidates ?? [];
    const [best] = candidates;
    const own = candidates.find((c) => c.team === team);
    if (best && own)
      this.#calls.set(move, {
        team,
        worth: own.worth,
        best: best.team,
        best_worth: best.worth,
        se: own.se
      });
  }

  /** Begins a rehearsal from where the board stands; nothing of it counts. */
  rehearse(): void {
    this.#calls.clear();
    this.rehearsal = this.made.map((e) => ({ ...e }));
    this.refusal = '';
  }

  /** Opens a rehearsal that was kept, to go on from it. */
  open({ moves, calls }: RehearsalBody): void {
    this.#calls.clear();
    this.rehearsal = moves.map((m, i) => ({
      ...m,
      answer: m.answer as Answer,
      step: i + 1,
      id: newId()
    }));
    for (const e of this.rehearsal) {
      const call = calls?.find((c) => c.team === e.invites);
      if (call && e.answer === 'accepts') this.#calls.set(e.id, call);
    }
    this.refusal = '';
  }

  /** Keeps the rehearsal as it stands, for all who lead or coach. */
  async keepRehearsal(name: string): Promise<boolean> {
    const made = this.made;
    const calls = made.flatMap((e) => this.#calls.get(e.id) ?? []);
    return this.#change('rehearsal', newId(), {
      name,
      ...(this.our && { our: this.our }),
      ranking: [...this.ranking],
      moves: made.map(moveOf),
      ...(calls.length > 0 && { calls })
    });
  }

  /** Takes a rehearsal away that was kept. */
  forget = (id: string, body: RehearsalBody): Promise<boolean> =>
    this.#change('rehearsal', id, { ...body, removed: true });

  async #change(kind: 'rehearsal', recordId: string, body: RehearsalBody): Promise<boolean> {
    try {
      await this.#event.save({ kind, recordId, body });
      this.refusal = '';
      return true;
    } catch (error) {
      this.refusal = `Not saved. ${sayError(error)}`;
      return false;
    }
  }

  endRehearsal(): void {
    this.rehearsal = undefined;
    this.refusal = '';
  }

  /** In a rehearsal: the others choose by the model until it is our turn or all is over. */
  letOthersChoose(random: () => number = Math.random): void {
    if (!this.rehearsal || !this.board) return;
    const board = this.board.clone();
    const log = [...this.rehearsal];
    for (let n = 0; n < 500; n++) {
      const turn = board.turn();
      if (!turn || board.allianceOf(this.our ?? '') === turn.alliance) break;
      const move = drawMove(board, (t) => this.estimates.get(t), random, this.pins);
      if (!move || board.move(move)) break;
      log.push({ ...move, step: nextStep(log), id: newId() });
    }
    this.rehearsal = log;
  }

  /** Keeps what this device needs to tell worths by itself; returns the way to stop. */
  learn(): () => void {
    void keepProgram();
    const stop = this.#knowledge.start();
    return () => {
      stop();
      this.#reckoner.close();
    };
  }

  /**
   * Asks the server what calls are worth now, until the signal ends it. While
   * nobody answers this device tells it, and the server is asked again.
   */
  async ask(signal: AbortSignal): Promise<void> {
    const key = this.key;
    const question = {
      our: this.our,
      ranking: [...this.ranking],
      moves: this.made.map(moveOf),
      pins: $state.snapshot(this.pins),
      never: [...this.never.keys()]
    };
    const take = (value: Advice, here: boolean) => {
      this.adviceFailed = '';
      this.#kept = { ...this.#kept, advice: { value, at: new Date().toISOString(), key, here } };
    };
    let served = false;
    let reckoned = false;
    const reckon = async () => {
      const known = this.#knowledge.value;
      if (reckoned || served || !known || signal.aborted) return;
      reckoned = true;
      const mine = (value: Advice) => !served && !signal.aborted && take(value, true);
      try {
        await this.#reckoner.ask(known, question, mine, signal);
        if (!served && !signal.aborted && !this.rehearsal) await this.#keep({});
      } catch (error) {
        if (!served && !signal.aborted) this.adviceFailed = sayError(error);
      }
    };
    // A dead network often gives no error.
    const late = setTimeout(() => void reckon(), PATIENCE_MS);
    signal.addEventListener('abort', () => clearTimeout(late));
    while (!signal.aborted) {
      this.asking = true;
      try {
        await advise(
          this.#event.id,
          question,
          (line) => {
            if (signal.aborted) return;
            served = true;
            clearTimeout(late);
            this.alone = false;
            this.adviceFailed = line.error ?? '';
            if (line.advice) take(line.advice, false);
          },
          signal
        );
        if (!signal.aborted && !this.rehearsal) await this.#keep({});
        return;
      } catch (error) {
        if (signal.aborted) return;
        clearTimeout(late);
        this.alone = error instanceof NoAnswer;
        this.adviceFailed = this.alone ? '' : sayError(error);
        if (!this.alone) return;
        served = false;
        void reckon();
      } finally {
        if (!signal.aborted) this.asking = false;
      }
      await new Promise((again) => {
        const timer = setTimeout(again, RETRY_MS);
        signal.addEventListener('abort', () => {
          clearTimeout(timer);
          again(undefined);
        });
      });
    }
  }
}

/** "40115 cannot be invited: already in alliance 2." */
export function sayRefusal(move: Move, rule: string): string {
  if (/^(already|captain of|did not show|declined|not at|is the)/.test(rule) && move.invites)
    return `${move.invites} cannot be invited: ${rule}.`;
  return `${rule.charAt(0).toUpperCase()}${rule.slice(1)}.`;
}

/** "40101 and 40115 are together", "40115 says no to 40101". */
export function sayMove({ captain, invites, answer }: Move): string {
  if (answer === 'nobody_left') return `Nobody is left for ${captain}`;
  if (!invites) return `Captain ${captain} is not there`;
  if (answer === 'accepts') return `${captain} takes ${invites}`;
  if (answer === 'declines') return `${invites} says no to ${captain}`;
  return `${invites} is not there`;
}

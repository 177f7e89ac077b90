/**
 * Alliance selection by its rules: the same functions as stats/selection (whose
 * doc.go says the rules in words), so that the board works without a network.
 * Both read testdata/selection.
 */
import type { SelectionBody } from '$lib/api';

export interface Rules {
  /** How many alliances, so captains. */
  alliances: number;
  /** Robots that join a captain. */
  picks: number;
  /** Robots that an alliance may call afterwards. */
  backups: number;
}

export type Answer = SelectionBody['answer'];

export interface Move {
  captain: string;
  invites?: string;
  answer: Answer;
  backup?: boolean;
  round?: number;
}

/** A move as it was written down; the id is the record's. */
export type Entry = SelectionBody & { id: string };
export type Refused = Entry & { rule: string; repeats: boolean };

export interface Formed {
  alliance: number;
  captain: string;
  picks: string[];
  backups: string[];
  /** The captain has chosen and cannot be invited any more. */
  settled: boolean;
}

export interface Turn {
  alliance: number;
  captain: string;
  round: number;
  /** From 1, counted through all rounds. */
  pick: number;
}

/** Eight alliances with two picks are common practice; a game file says otherwise. */
export const rulesOf = (s: { alliances: number; picks: number; backups?: number } | undefined): Rules => ({
  alliances: s?.alliances ?? 8,
  picks: s?.picks ?? 2,
  backups: s?.backups ?? 0
});

/** A selection in progress. Teams are known inside by their place in the ranking. */
export class Board {
  readonly rules: Rules;
  readonly ranking: readonly string[];
  readonly #place: ReadonlyMap<string, number>;
  /** Alliance by turn, from 0. */
  readonly #order: readonly number[];
  #turn = 0;
  /** By place: the alliance, −1 for none. */
  #joined: number[];
  #declined: Set<number>;
  #gone: Set<number>;
  /** By alliance that has chosen: places, the captain first, picks, then backups. */
  #members: number[][];
  #called: number[];

  private constructor(rules: Rules, ranking: readonly string[], from?: Board) {
    this.rules = rules;
    this.ranking = ranking;
    if (from) {
      this.#place = from.#place;
      this.#order = from.#order;
      this.#turn = from.#turn;
      this.#joined = [...from.#joined];
      this.#declined = new Set(from.#declined);
      this.#gone = new Set(from.#gone);
      this.#members = from.#members.map((m) => [...m]);
      this.#called = [...from.#called];
    } else {
      this.#place = new Map(ranking.map((t, i) => [t, i]));
      this.#order = serpentine(rules);
      this.#joined = ranking.map(() => -1);
      this.#declined = new Set();
      this.#gone = new Set();
      this.#members = Array.from({ length: rules.alliances }, () => []);
      this.#called = Array.from({ length: rules.alliances }, () => 0);
    }
  }

  /** Starts a selection; a sentence: why it cannot. */
  static start(rules: Rules, ranking: readonly string[]): Board | string {
    if (ranking.length < rules.alliances)
      return `The ranking has ${ranking.length} teams for ${rules.alliances} alliances.`;
    const twice = ranking.find((t, i) => ranking.indexOf(t) !== i);
    if (twice) return `Team ${twice} stands twice in the ranking.`;
    return new Board(rules, ranking);
  }

  clone(): Board {
    return new Board(this.rules, this.ranking, this);
  }

  /** Who is on the clock; undefined: all picks are made. */
  turn(): Turn | undefined {
    const [t, c] = this.#now();
    if (c < 0) return undefined;
    return { alliance: this.#order[t]! + 1, captain: this.ranking[c]!, round: this.#roundOf(t), pick: t + 1 };
  }

  /** All alliances as they stand, those that have a captain. */
  alliances(): Formed[] {
    return this.#members.flatMap((m, a) => {
      const c = this.#captain(a);
      if (c < 0) return [];
      const names = m.slice(1).map((i) => this.ranking[i]!);
      const picks = names.length - this.#called[a]!;
      return {
        alliance: a + 1,
        captain: this.ranking[c]!,
        picks: names.slice(0, picks),
        backups: names.slice(picks),
        settled: m.length > 0
      };
    });
  }

  /** The pick at which an alliance, from 1, chooses for the k-th time from now on; undefined: it does not. */
  pickOf(alliance: number, k = 1): number | undefined {
    for (let t = this.#now()[0]; t < this.#order.length; t++)
      if (this.#order[t] === alliance - 1 && --k === 0) return t + 1;
    return undefined;
  }

  /** The alliance of a team, also of a captain that has not chosen yet; 0: none. */
  allianceOf(team: string): number {
    return this.alliances().find((a) => [a.captain, ...a.picks, ...a.backups].includes(team))?.alliance ?? 0;
  }

  declined(): string[] {
    return this.#named((i) => this.#declined.has(i));
  }

  gone(): string[] {
    return this.#named((i) => this.#gone.has(i));
  }

  /**
   * Who may be invited now, in order of rank. Once all picks are made they are
   * the backups, of whom only the first may be called.
   */
  pool(): string[] {
    const [, c] = this.#now();
    return this.#named((i) => this.#free(i) && !this.#declined.has(i) && i !== c);
  }

  /** Why a team may not be invited now, in words; empty: it may be. */
  whyNot(team: string): string {
    const [, c] = this.#now();
    const i = this.#place.get(team);
    if (i === undefined) return 'not at the event';
    const a = this.#joined[i]!;
    if (i === c) return 'is the inviting captain';
    if (a >= 0 && this.#members[a]![0] === i) return 'captain of an alliance that has already chosen';
    if (a >= 0) return `already in alliance ${a + 1}`;
    if (this.#gone.has(i)) return 'did not show before';
    if (this.#declined.has(i)) return 'declined before: may not be invited again';
    return '';
  }

  /** Makes a move. Returns the rule that forbids it, and then nothing changed; empty: it is made. */
  move(m: Move): string {
    const [t, c] = this.#now();
    return m.backup ? this.#backup(m, c >= 0) : this.#choose(m, t, c);
  }

  #choose(m: Move, t: number, c: number): string {
    if (c < 0) return 'all picks are made';
    const alliance = this.#order[t]!;
    if (m.captain !== this.ranking[c])
      return `not on the clock: it is the turn of ${this.ranking[c]}, captain of alliance ${alliance + 1}`;
    if (m.round && m.round !== this.#roundOf(t))
      return `made for round ${m.round}: the board is in round ${this.#roundOf(t)}`;
    if (m.answer === 'nobody_left') {
      if (m.invites) return 'nobody is invited when nobody is left';
      const first = this.pool()[0];
      if (first) return `${first} may still be invited: an alliance stays short only when nobody is left`;
      this.#settle(t, c);
      this.#turn = t + 1;
      return '';
    }
    if (!m.invites) {
      if (m.answer !== 'no_show') return 'nobody is invited: name the team';
      if (this.#joined[c]! >= 0) return 'captain of an alliance that has already chosen';
      this.#gone.add(c);
      return '';
    }
    const rule = this.whyNot(m.invites);
    if (rule) return rule;
    const i = this.#place.get(m.invites)!;
    if (m.answer === 'accepts') {
      this.#settle(t, c);
      this.#join(alliance, i);
      this.#turn = t + 1;
    } else if (m.answer === 'declines') this.#declined.add(i);
    else if (m.answer === 'no_show') this.#gone.add(i);
    else return `"${m.answer}" is no answer: write accepts, declines, no_show or nobody_left`;
    return '';
  }

  #backup(m: Move, choosing: boolean): string {
    const i = this.#place.get(m.captain);
    const alliance = i === undefined ? -1 : this.#joined[i]!;
    if (choosing) return 'backups are called when all picks are made';
    if (this.rules.backups === 0) return 'this game has no backups';
    if (alliance < 0 || this.#members[alliance]![0] !== i)
      return 'only the captain of an alliance calls a backup';
    if (this.#called[alliance]! >= this.rules.backups)
      return `alliance ${alliance + 1} has called its backups`;
    const rule = this.whyNot(m.invites ?? '');
    if (rule) return rule;
    const first = this.pool()[0];
    if (m.invites !== first) return `backups are called in order of rank: ${first} is next`;
    const called = this.#place.get(m.invites!)!;
    if (m.answer === 'accepts') {
      this.#join(alliance, called);
      this.#called[alliance]!++;
    } else if (m.answer === 'declines') this.#declined.add(called);
    else if (m.answer === 'no_show') this.#gone.add(called);
    else return `"${m.answer}" is no answer to a backup's call: write accepts, declines or no_show`;
    return '';
  }

  #named(which: (place: number) => boolean): string[] {
    return this.ranking.filter((_, i) => which(i));
  }

  #roundOf(turn: number): number {
    return Math.floor(turn / this.rules.alliances) + 1;
  }

  #free(i: number): boolean {
    return this.#joined[i]! < 0 && !this.#gone.has(i);
  }

  /** The place of an alliance's captain; −1: no team is left for it. */
  #captain(alliance: number): number {
    const own = this.#members[alliance]!;
    if (own.length > 0) return own[0]!;
    // Alliances up to this one that have not chosen: their captains are the best free teams.
    let skip = this.#members.slice(0, alliance + 1).filter((m) => m.length === 0).length;
    for (let i = 0; i < this.ranking.length; i++) if (this.#free(i) && --skip === 0) return i;
    return -1;
  }

  /** The turn that is due and its captain: alliances that found no captain are passed over. */
  #now(): [turn: number, captain: number] {
    for (let t = this.#turn; t < this.#order.length; t++) {
      const c = this.#captain(this.#order[t]!);
      if (c >= 0) return [t, c];
    }
    return [this.#order.length, -1];
  }

  #settle(turn: number, captain: number): void {
    const a = this.#order[turn]!;
    if (this.#members[a]!.length === 0) this.#join(a, captain);
  }

  #join(alliance: number, i: number): void {
    this.#joined[i] = alliance;
    this.#members[alliance]!.push(i);
  }
}

/** The serpentine: by turn the alliance, from 0. */
function serpentine({ alliances, picks }: Rules): number[] {
  return Array.from({ length: alliances * picks }, (_, t) => {
    const k = t % alliances;
    return Math.floor(t / alliances) % 2 === 1 ? alliances - 1 - k : k;
  });
}

/** A log in the order in which it is replayed: a function of the set. What was taken back is left out. */
export function ordered(log: readonly Entry[]): Entry[] {
  const byId = new Map(log.filter((e) => !e.removed).map((e) => [e.id, e]));
  return [...byId.values()].sort((a, b) => a.step - b.step || (a.id < b.id ? -1 : 1));
}

/** What moves say, to tell whether two say the same. */
const said = (m: Move): string =>
  JSON.stringify([m.captain, m.invites ?? '', m.answer, m.backup ?? false, m.round ?? 0]);

export const moveOf = ({ captain, invites, answer, backup, round }: Entry): Move => ({
  captain,
  ...(invites && { invites }),
  answer,
  ...(backup && { backup }),
  ...(round && { round })
});

export interface Replayed {
  board: Board;
  /** The moves that count, in the order in which they were made. */
  made: Entry[];
  refused: Refused[];
}

/**
 * Makes the moves of a log, which may come from several devices, in any order
 * and any number of times. What is refused at its place is tried again after
 * each move that counts; see Replay in stats/selection/log.go.
 */
export function replay(start: Board, log: readonly Entry[]): Replayed {
  const board = start.clone();
  const made: Entry[] = [];
  const done = new Set<string>();
  let waiting: Refused[] = [];
  const attempt = (e: Entry): boolean => {
    const move = moveOf(e);
    if (done.has(said(move))) {
      waiting.push({ ...e, rule: 'the same move stands earlier', repeats: true });
      return false;
    }
    const rule = board.move(move);
    if (rule) {
      waiting.push({ ...e, rule, repeats: false });
      return false;
    }
    done.add(said(move));
    made.push(e);
    return true;
  };
  for (const e of ordered(log)) {
    if (!attempt(e)) continue;
    for (let again = true; again;) {
      again = false;
      const held = waiting;
      waiting = [];
      for (const { rule, repeats, ...entry } of held) {
        if (repeats || again) waiting.push({ ...entry, rule, repeats });
        else again = attempt(entry);
      }
    }
  }
  return { board, made, refused: waiting };
}

/** The step of a move that follows all of a log. */
export const nextStep = (log: readonly Entry[]): number => Math.max(0, ...log.map((e) => e.step)) + 1;

/**
 * The ids to take back so that only the first moves that count are left: those
 * after them, and what would count in their place, as the same move written
 * down on another device.
 */
export function toTakeBack(start: Board, log: readonly Entry[], keep: number): string[] {
  const wanted = replay(start, log)
    .made.slice(0, keep)
    .map((e) => e.id);
  const out = new Set<string>();
  for (;;) {
    const left = log.filter((e) => !out.has(e.id));
    const extra = replay(start, left).made.filter((e, i) => e.id !== wanted[i]);
    if (extra.length === 0) return [...out];
    for (const e of extra) out.add(e.id);
  }
}

/**
 * What two alliances are credited with, by the game file: the same rules as
 * stats/game/board.go, held by the same vectors (testdata/scoring). Here it
 * shows what records add up to beside what the venue published.
 */
import type { Observed } from './observed';
import type { Action, Bonus, Game, Test } from './types';

/** What an alliance did, by unit: an action, or "action:option" of a choice. */
type Units = Record<string, number>;

/** What one alliance did in one match. */
export interface Played {
  /** In the order of stations. */
  robots: Units[];
  /** What belongs to no single robot. */
  alliance: Units;
  fouls: Record<string, number>;
}

/** What one alliance is credited with; the fields are those of Scored in stats/game. */
export interface Scored {
  points: number;
  fromFouls: number;
  components: Record<string, number>;
  /** The ids of those gained. */
  rankingPoints: string[];
  ranking: number;
  credited: Units;
  robots: number[];
  rest: number;
}

/** Absorbs the rounding of sums of decimal fractions in comparisons. */
const SLACK = 1e-9;

interface Unit {
  key: string;
  action: Action;
  points: number;
  max: number;
}

/** The units in the order in which they are credited: by period, the most valuable first. */
function unitsOf(game: Game): Unit[] {
  const order = (a: Action) => {
    const at = game.periods.findIndex((p) => p.id === a.period);
    return at < 0 ? game.periods.length : at;
  };
  const unit = (action: Action, key: string, points = 0, max = Infinity): Unit => ({
    key,
    action,
    points,
    max
  });
  return game.actions
    .flatMap((a) =>
      a.kind === 'choice'
        ? (a.options ?? []).map((o) => unit(a, `${a.id}:${o.id}`, o.points, o.alliance_max))
        : [unit(a, a.id, a.points, a.alliance_max)]
    )
    .sort((a, b) => order(a.action) - order(b.action) || b.points - a.points);
}

/** What observations of an alliance's robots, one each, say it did. Not watched is taken as not done. */
export function playedFrom(game: Game, robots: readonly (Observed | undefined)[]): Played {
  const out: Played = { robots: [], alliance: {}, fouls: {} };
  for (const o of robots) {
    const units: Units = {};
    for (const a of o && !o.absent ? game.actions : []) {
      const option = a.options?.find((x) => x.id === o!.choices?.[a.id]?.option);
      const made = Math.max(0, o!.counts?.[a.id]?.made ?? 0);
      if (a.by === 'alliance') raise(out.alliance, a, option?.id, made);
      else if (option) units[`${a.id}:${option.id}`] = 1;
      else if (a.kind !== 'choice') units[a.id] = a.kind === 'flag' ? Math.min(1, made) : made;
    }
    out.robots.push(units);
    for (const [id, n] of Object.entries(o?.fouls ?? {})) out.fouls[id] = (out.fouls[id] ?? 0) + n;
  }
  return out;
}

/** Of an action by the alliance the most that any scout saw. */
function raise(alliance: Units, a: Action, option: string | undefined, made: number) {
  if (a.kind !== 'choice') {
    const n = a.kind === 'flag' ? Math.min(1, made) : made;
    alliance[a.id] = Math.max(alliance[a.id] ?? 0, n);
    return;
  }
  const worth = (id: string) => a.options?.find((o) => o.id === id)?.points ?? 0;
  const before = a.options?.find((o) => alliance[`${a.id}:${o.id}`]);
  if (!option || (before && worth(before.id) >= worth(option))) return;
  if (before) delete alliance[`${a.id}:${before.id}`];
  alliance[`${a.id}:${option}`] = 1;
}

/** Scores a match. */
export function score(game: Game, red: Played, blue: Played): [Scored, Scored] {
  const match = new Scoring(game, [red, blue]);
  return [match.scored(0), match.scored(1)];
}

type Side = 0 | 1;
const BOTH: readonly Side[] = [0, 1];
const sum = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0);

class Scoring {
  readonly units: Unit[];
  readonly credited: [Units, Units] = [{}, {}];
  /** What part of what was done counts, by unit. */
  readonly share: [Units, Units] = [{}, {}];
  readonly paid: [Units, Units] = [{}, {}];
  readonly points: [number, number] = [0, 0];
  readonly got: [number[], number[]] = [[], []];
  readonly rest: [number, number] = [0, 0];

  constructor(
    readonly game: Game,
    readonly did: [Played, Played]
  ) {
    this.units = unitsOf(game);
    this.#credit();
    for (const side of BOTH) {
      const worth = (row: Units) =>
        sum(this.units.map((u) => (row[u.key] ?? 0) * this.share[side][u.key]! * u.points));
      this.got[side] = did[side].robots.map(worth);
      this.rest[side] = worth(did[side].alliance);
      this.points[side] = sum(this.units.map((u) => this.credited[side][u.key]! * u.points));
    }
    for (const b of game.bonuses ?? []) for (const side of BOTH) this.#bonus(side, b);
    for (const side of BOTH) {
      const bonuses = (game.bonuses ?? []).map((b) => this.paid[side][b.id]! * b.points);
      this.points[side] += sum(bonuses) + this.fromFouls(side);
    }
  }

  /** How much of each unit counts: caps of the alliance, then limits. */
  #credit() {
    const left = (this.game.limits ?? []).map((l) => [l.max, l.max]);
    for (const u of this.units) {
      const done = BOTH.map((s) => sum(this.#rows(s).map((row) => row[u.key] ?? 0)));
      const got = done.map((n) => Math.min(n, u.max));
      const limits = (this.game.limits ?? []).flatMap((l, i) =>
        u.action.kind !== 'choice' && l.count.includes(u.action.id) ? [{ per: l.per, left: left[i]! }] : []
      );
      for (const l of limits) {
        if (l.per === 'match') {
          // Both share what is left in proportion.
          const part = Math.min(1, l.left[0]! / Math.max(sum(got), Number.MIN_VALUE));
          for (const s of BOTH) got[s]! *= part;
        } else for (const s of BOTH) got[s] = Math.min(got[s]!, l.left[s]!);
      }
      for (const l of limits) {
        if (l.per === 'match') l.left[0] = Math.max(0, l.left[0]! - sum(got));
        else for (const s of BOTH) l.left[s]! -= got[s]!;
      }
      for (const s of BOTH) {
        this.credited[s][u.key] = got[s]!;
        this.share[s][u.key] = done[s]! > 0 ? got[s]! / done[s]! : 1;
      }
    }
  }

  #rows(side: Side): Units[] {
    return [...this.did[side].robots, this.did[side].alliance];
  }

  /** The units that an action's id stands for. */
  #of(ids: readonly string[]): Unit[] {
    return this.units.filter((u) => ids.includes(u.action.id));
  }

  /** How often a bonus is paid, and to whom: for each of something to who did it, else to the rest. */
  #bonus(side: Side, b: Bonus) {
    if (this.paid[side][b.id] !== undefined) return;
    this.paid[side][b.id] = 0;
    if (!b.for_each) {
      if (!b.when || !this.#holds(side, b.when)) return;
      this.paid[side][b.id] = 1;
      this.rest[side] += b.points;
      return;
    }
    const units = this.#of(b.for_each.count);
    const counted = this.#rows(side).map((row) =>
      sum(units.map((u) => (row[u.key] ?? 0) * this.share[side][u.key]!))
    );
    const all = sum(counted);
    const times = Math.floor(all / b.for_each.step + SLACK);
    if (times <= 0) return;
    this.paid[side][b.id] = times;
    counted.forEach((n, i) => {
      const points = (times * b.points * n) / all;
      if (i < this.got[side].length) this.got[side][i]! += points;
      else this.rest[side] += points;
    });
  }

  component(side: Side, id: string): number {
    const c = this.game.components?.find((x) => x.id === id);
    if (!c) return 0;
    const bonuses = (this.game.bonuses ?? []).filter((b) => c.sum?.includes(b.id));
    // A condition may look at a component that holds bonuses which come later in the file.
    for (const b of bonuses) this.#bonus(side, b);
    return (
      sum(this.#of(c.sum ?? []).map((u) => this.credited[side][u.key]! * u.points)) +
      sum(this.#of(c.count ?? []).map((u) => this.credited[side][u.key]!)) +
      sum(bonuses.map((b) => this.paid[side][b.id]! * b.points))
    );
  }

  #holds(side: Side, test: Test): boolean {
    const other: Side = side === 0 ? 1 : 0;
    if (test === 'win') return this.points[side] > this.points[other] + SLACK;
    if (test === 'tie') return Math.abs(this.points[side] - this.points[other]) <= SLACK;
    if ('any' in test) return test.any.some((t) => this.#holds(side, t));
    if ('all' in test) return test.all.every((t) => this.#holds(side, t));
    if ('both' in test)
      return BOTH.every((s) => this.#of([test.both]).some((u) => this.credited[s][u.key]! > 0));
    const value = this.component(side, test.component);
    if ('more_than' in test) return value > this.component(other, test.component) + SLACK;
    const least =
      typeof test.at_least === 'string' ? (this.game.values?.[test.at_least] ?? 0) : test.at_least;
    return value >= least - SLACK;
  }

  fromFouls(side: Side): number {
    const opponent = this.did[side === 0 ? 1 : 0].fouls;
    return sum((this.game.fouls ?? []).map((f) => (opponent[f.id] ?? 0) * (f.opponent_points ?? 0)));
  }

  scored(side: Side): Scored {
    const { game } = this;
    const opponent = this.did[side === 0 ? 1 : 0].fouls;
    const gained = (game.ranking_points ?? []).filter(
      (r) =>
        this.#holds(side, r.when) ||
        game.fouls?.some((f) => f.opponent_gains === r.id && (opponent[f.id] ?? 0) > 0)
    );
    return {
      points: this.points[side],
      fromFouls: this.fromFouls(side),
      components: Object.fromEntries((game.components ?? []).map((c) => [c.id, this.component(side, c.id)])),
      rankingPoints: gained.map((r) => r.id),
      ranking: sum(gained.map((r) => r.points)),
      credited: { ...this.credited[side], ...this.paid[side] },
      robots: this.got[side],
      rest: this.rest[side]
    };
  }
}

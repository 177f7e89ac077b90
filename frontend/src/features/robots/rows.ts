// Rows of the robots table: joined, filtered, ordered, and told in a sentence.

import type { Match, Team, TeamEstimate } from '$lib/api';
import { compareTeams, inWords, meansTeam, normalCdf } from '$lib/figures';
import { nameOf, type Game } from '$lib/game/types';
import { pitOf, type Report } from '$lib/pit';
import { figure, tooLittle, trendText, type Column, type RobotRow, type View } from './columns';
import { asked, type Summary } from './seen';

export function joinRows(
  teams: readonly Team[],
  estimates: readonly TeamEstimate[] | undefined,
  ourTeam: string | undefined,
  seen?: ReadonlyMap<string, Summary>,
  squares?: ReadonlyMap<string, ReadonlyMap<string, number | undefined>>,
  reports: readonly Report[] = []
): RobotRow[] {
  const byTeam = new Map((estimates ?? []).map((e) => [e.team, e]));
  return [...teams]
    .sort((a, b) => compareTeams(a.team, b.team))
    .map((t) => ({
      team: t.team,
      name: t.name,
      ours: t.team === ourTeam,
      estimate: byTeam.get(t.team),
      seen: seen?.get(t.team),
      pit: pitOf(reports, t.team),
      components:
        squares &&
        new Map([...squares].flatMap(([id, by]) => (by.has(t.team) ? [[id, by.get(t.team)] as const] : [])))
    }));
}

export interface Order {
  /** "team", "estimate" or a column's id. */
  by: string;
  descending: boolean;
}

/** Orders rows; a row without the value always comes last, equal ones go by team number. */
export function sortRows(
  rows: readonly RobotRow[],
  order: Order,
  columns: readonly Column[],
  view: View
): RobotRow[] {
  const column = columns.find((c) => c.id === order.by);
  const value = (row: RobotRow): number | undefined => (column ? column.value(row) : figure(row, view)?.mean);
  const way = order.descending ? -1 : 1;
  return [...rows].sort((a, b) => {
    if (order.by === 'team') return way * compareTeams(a.team, b.team);
    const x = value(a);
    const y = value(b);
    if (x === undefined || y === undefined) {
      return x === y ? compareTeams(a.team, b.team) : x === undefined ? 1 : -1;
    }
    return way * (x - y) || compareTeams(a.team, b.team);
  });
}

/** What a press on a column's head does: best first, then the other way round. */
export function nextOrder(order: Order, id: string, best: 'high' | 'low'): Order {
  const first = id !== 'team' && best === 'high';
  return { by: id, descending: order.by === id ? !order.descending : first };
}

/** Whether a typed text means this robot. */
export const matchesText = (row: RobotRow, text: string): boolean => meansTeam(text, row.team, row.name);

export interface Filter {
  id: string;
  name: string;
  keeps(row: RobotRow): boolean;
}

/** The chips above the table; those about choices come from the game file. */
export function filtersOf(game: Game, next: Match | undefined): Filter[] {
  const filters: Filter[] = [];
  for (const action of game.actions) {
    if (action.kind !== 'choice' || action.by === 'alliance') continue;
    const best = [...(action.options ?? [])].sort((a, b) => (b.points ?? 0) - (a.points ?? 0))[0];
    if (!best || (best.points ?? 0) <= 0) continue;
    const key = `${action.id}:${best.id}`;
    filters.push({
      id: key,
      name: `${nameOf(best)} half the time`,
      keeps: (row) => (row.estimate?.actions[key]?.mean ?? 0) >= 0.5
    });
  }
  for (const place of asked(game, 'start_position')?.options ?? []) {
    filters.push({
      id: `start:${place}`,
      name: `Starts ${place}`,
      keeps: (row) => startsAt(row.seen, place)
    });
  }
  filters.push({
    id: 'rising',
    name: 'Rising',
    keeps: (row) => trendText(row.seen).sure && (row.seen?.trend?.value ?? 0) > 0
  });
  filters.push({
    id: 'reliable',
    name: 'Stops under 10 %',
    keeps: (row) => !!row.estimate && row.estimate.watched > 0 && row.estimate.stops < 0.1
  });
  if (next) {
    const teams = new Set([...next.red.teams, ...next.blue.teams]);
    filters.push({ id: 'next', name: `In ${next.match}`, keeps: (row) => teams.has(row.team) });
  }
  filters.push({ id: 'little', name: 'Too little data', keeps: tooLittle });
  return filters;
}

/** Whether a robot started at a place in a quarter of its watched matches or more. */
function startsAt(seen: Summary | undefined, place: string): boolean {
  const all = [...(seen?.starts.values() ?? [])].reduce((a, b) => a + b, 0);
  return all > 0 && (seen?.starts.get(place) ?? 0) >= all / 4;
}

/** How many robots an alliance selection takes; undefined when the game does not say. */
export function selectionSize(game: Game): number | undefined {
  const s = game.selection;
  return s ? s.alliances * (1 + s.picks) : undefined;
}

/**
 * How sure the first n places are: of the first n by `now`, those that are above
 * the middle between place n and n + 1 with a chance of 90 % or more.
 */
export function sureOf(rows: readonly RobotRow[], n: number): { sure: RobotRow[]; open: RobotRow[] } {
  const ranked = rows
    .filter((r) => r.estimate)
    .sort((a, b) => b.estimate!.now - a.estimate!.now || compareTeams(a.team, b.team));
  const last = ranked[n - 1];
  const out = ranked[n];
  if (!last || !out) return { sure: [], open: [] };
  const cut = (last.estimate!.now + out.estimate!.now) / 2;
  const sure: RobotRow[] = [];
  const open: RobotRow[] = [];
  for (const row of ranked.slice(0, n)) {
    const e = row.estimate!;
    const chance = e.now_sd > 0 ? normalCdf((e.now - cut) / e.now_sd) : 1;
    (chance >= 0.9 ? sure : open).push(row);
  }
  return { sure, open };
}

/** The first line of the screen. */
export function robotsSentence(rows: readonly RobotRow[], game: Game, played: number, total: number): string {
  const robots = rows.length === 1 ? '1 robot' : `${rows.length} robots`;
  const start =
    total === 0 ? `${robots}, no schedule yet.` : `${robots}, ${played} of ${total} matches played.`;
  if (rows.length === 0) return 'No teams yet.';
  if (!rows.some((r) => r.estimate)) return start;
  const n = selectionSize(game);
  if (n === undefined || n >= rows.length) return start;
  const { sure, open } = sureOf(rows, n);
  if (sure.length + open.length === 0) return start;
  if (open.length === 0) return `${start} The first ${n} places are sure.`;
  if (sure.length === 0) return `${start} Too little data to tell the first ${n} from the rest.`;
  const verb = open.length === 1 ? 'is' : 'are';
  return `${start} Of the first ${n} places, ${inWords(open.length)} ${verb} open.`;
}

/** "3rd of 48": place of a robot by what to expect next; undefined without an estimate. */
export function placeOf(rows: readonly RobotRow[], team: string): { place: number; of: number } | undefined {
  const known = rows.filter((r) => r.estimate);
  const mine = known.find((r) => r.team === team);
  if (!mine) return undefined;
  const better = known.filter((r) => r.estimate!.now > mine.estimate!.now).length;
  return { place: better + 1, of: known.length };
}

// The columns of the robots table, made from the game file. A column knows its
// value, how it is written and whether more is better; the table knows the rest.

import type { TeamEstimate } from '$lib/api';
import { distinctName } from '$lib/game/names';
import { nameOf, type Game } from '$lib/game/types';
import { fixed, percent, plusMinus, signed, type Spread } from '$lib/figures';

/** Which of a robot's three figures the estimate column shows. */
export type View = 'now' | 'points' | 'working';

export const views: readonly { id: View; name: string; means: string }[] = [
  { id: 'now', name: 'Next match', means: 'points to expect of it in its next match' },
  { id: 'points', name: 'Whole event', means: 'points a match over the event' },
  { id: 'working', name: 'When nothing stops it', means: 'points a match when it does not break down' }
];

/** One robot as the table shows it. Without an estimate there is nothing to compare yet. */
export interface RobotRow {
  team: string;
  name: string;
  ours: boolean;
  estimate?: TeamEstimate;
}

export type Group = 'Seen' | 'Actions' | 'Least squares';

export interface Column {
  id: string;
  label: string;
  /** Second line of the head, where the label alone is not clear. */
  under?: string;
  group: Group;
  help: string;
  /** 1 stays longest when the table gets narrow. */
  priority: 1 | 2 | 3 | 4;
  /** Shown until somebody chooses otherwise. */
  shown: boolean;
  best: 'high' | 'low';
  value(row: RobotRow): number | undefined;
  text(row: RobotRow): string;
  /** The interval, told on demand: a dense table has no room for it. */
  quiet?(row: RobotRow): string;
  warn?(row: RobotRow): boolean;
}

/** The figure that a view is about. `working` has no spread of its own. */
export function figure(row: RobotRow, view: View): { mean: number; sd?: number } | undefined {
  const e = row.estimate;
  if (!e) return undefined;
  if (view === 'now') return { mean: e.now, sd: e.now_sd };
  if (view === 'points') return { mean: e.points, sd: e.sd };
  return { mean: e.working };
}

/** All spreads of a view, for the scale that its rows share. */
export function spreadsOf(rows: readonly RobotRow[], view: View): Spread[] {
  const out: Spread[] = [];
  for (const row of rows) {
    const f = figure(row, view);
    if (f) out.push({ mean: f.mean, sd: f.sd ?? 0 });
  }
  return out;
}

/** Keys of TeamEstimate.actions: an action's id, or "action:option" of a choice. */
interface ActionFigure {
  key: string;
  label: string;
  under?: string;
  share: boolean;
  points: number;
  help: string;
}

/**
 * What there is to show of the robots' own actions. Of a choice the options
 * that are worth points are shown; where none is, all but the first.
 */
export function actionFigures(game: Game): ActionFigure[] {
  const out: ActionFigure[] = [];
  for (const a of game.actions) {
    if (a.by === 'alliance') continue;
    const { name, period } = distinctName(game, a);
    if (a.kind === 'choice') {
      const options = a.options ?? [];
      const paid = options.filter((o) => (o.points ?? 0) !== 0);
      for (const o of paid.length > 0 ? paid : options.slice(1)) {
        out.push({
          key: `${a.id}:${o.id}`,
          label: nameOf(o),
          under: name,
          share: true,
          points: o.points ?? 0,
          help: `share of matches that end with ${name}: ${nameOf(o)}`
        });
      }
      continue;
    }
    const share = a.kind === 'flag';
    out.push({
      key: a.id,
      label: name,
      under: period,
      share,
      points: a.points ?? 0,
      help: share ? `share of matches with ${name}` : `${name}, a match${period ? ` (${period})` : ''}`
    });
  }
  return out;
}

/** How many action columns a table starts with. */
const startColumns = 5;

/** The actions that bring robots the most points on average: they start as columns. */
function weightiest(figures: readonly ActionFigure[], rows: readonly RobotRow[]): Set<string> {
  const weight = new Map<string, number>();
  for (const f of figures) {
    const sum = rows.reduce((total, row) => total + (row.estimate?.actions[f.key]?.mean ?? 0), 0);
    weight.set(f.key, Math.abs(sum * f.points));
  }
  const sorted = [...figures].sort((a, b) => (weight.get(b.key) ?? 0) - (weight.get(a.key) ?? 0));
  return new Set(sorted.slice(0, startColumns).map((f) => f.key));
}

export const leastSquaresMeaning =
  'Least squares: one unknown a robot, solved from alliance scores alone, points by fouls included. ' +
  'Of the defence figure less is better. It is plain arithmetic without an interval; ' +
  'while the schedule does not settle a robot it says so.';

export const notDetermined = 'not determined yet';

export function columnsOf(game: Game, rows: readonly RobotRow[]): Column[] {
  const figures = actionFigures(game);
  const first = weightiest(figures, rows);
  const columns: Column[] = figures.map((f) => ({
    id: `action:${f.key}`,
    label: f.label,
    under: f.under,
    group: 'Actions' as const,
    help: f.help,
    priority: first.has(f.key) ? 3 : 4,
    shown: first.has(f.key),
    best: f.points < 0 ? ('low' as const) : ('high' as const),
    value: (row) => row.estimate?.actions[f.key]?.mean,
    text: (row) => {
      const mean = row.estimate?.actions[f.key]?.mean;
      return f.share ? percent(mean) : fixed(mean);
    },
    quiet: (row) => {
      const sd = row.estimate?.actions[f.key]?.sd;
      return f.share || sd === undefined ? '' : plusMinus(sd);
    }
  }));

  columns.push(
    {
      id: 'stops',
      label: 'Stops',
      group: 'Seen',
      help: 'share of its matches in which it stood still for 20 s or more, or did not show',
      priority: 2,
      shown: true,
      best: 'low',
      value: (row) => (row.estimate && row.estimate.watched > 0 ? row.estimate.stops : undefined),
      text: (row) => percent(row.estimate && row.estimate.watched > 0 ? row.estimate.stops : undefined),
      warn: (row) => (row.estimate?.watched ?? 0) > 0 && (row.estimate?.stops ?? 0) > 0.1
    },
    {
      id: 'seen',
      label: 'Watched',
      group: 'Seen',
      help: 'matches with at least one record, of those it played',
      priority: 2,
      shown: true,
      best: 'high',
      value: (row) => row.estimate?.watched,
      text: (row) => (row.estimate ? `${row.estimate.watched} of ${row.estimate.matches}` : ''),
      warn: (row) => tooLittle(row)
    }
  );

  const ls = [
    ['offence', 'Offence', 'OPR', 'offensive power rating: its share of the own alliance’s score', 'high'],
    [
      'defence',
      'Defence',
      'DPR',
      'defensive power rating: its share of the score allowed; less is better',
      'low'
    ],
    ['margin', 'Margin', 'CCWM', 'calculated contribution to winning margin: offence less defence', 'high']
  ] as const;
  for (const [key, label, under, help, best] of ls) {
    const value = (row: RobotRow) => row.estimate?.least_squares[key] ?? undefined;
    columns.push({
      id: `ls:${key}`,
      label,
      under,
      group: 'Least squares',
      help,
      priority: 4,
      shown: false,
      best,
      value,
      text: (row) => {
        const v = value(row);
        if (v === undefined) return row.estimate ? notDetermined : '';
        return key === 'margin' ? signed(v) : fixed(v);
      }
    });
  }
  return columns;
}

/** Fewer than two matches played, or none watched: the interval is all there is to say. */
export function tooLittle(row: RobotRow): boolean {
  const e = row.estimate;
  return !e || e.matches < 2 || e.watched === 0;
}

/** Room that a column needs, in pixels, at the table's type size. */
function widthOf(c: Column): number {
  const head = Math.max(...[c.label, c.under ?? ''].map((t) => Math.min(t.length, 11))) * 7 + 30;
  const cell = c.group === 'Least squares' ? 104 : c.id === 'seen' ? 76 : 66;
  return Math.max(head, cell) + 8;
}

/**
 * The columns that fit beside `taken` pixels: those that somebody chose first,
 * then by priority; shown in their own order.
 */
export function fitColumns(
  columns: readonly Column[],
  chosen: ReadonlySet<string> | undefined,
  width: number,
  taken: number
): { shown: Column[]; left: number } {
  const wanted = columns.filter((c) => (chosen ? chosen.has(c.id) : c.shown));
  const byPriority = [...wanted].sort((a, b) => a.priority - b.priority);
  const fits = new Set<string>();
  let used = taken;
  for (const c of byPriority) {
    used += widthOf(c);
    if (used > width) break;
    fits.add(c.id);
  }
  return { shown: wanted.filter((c) => fits.has(c.id)), left: wanted.length - fits.size };
}

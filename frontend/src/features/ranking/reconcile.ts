/**
 * The venue's ranking, pasted as it stands, beside the one that follows from
 * the results by the game file. Where they differ the game file or a result is
 * wrong, and this says where to look.
 */
import type { Match } from '$lib/api';
import { lastPlays } from '$lib/state/matches';
import { readTeam } from '$lib/state/numbers';

/** One line of the venue's ranking. */
export interface Official {
  rank: number;
  team: string;
  /** Further numbers of the line, and how they were written. */
  numbers: { value: number; digits: number }[];
}

export interface Pasted {
  lines: Official[];
  /** Lines that could not be read, in words. */
  problems: string[];
  /** Teams of the event that no line has. */
  missing: string[];
}

const NUMBER = /^[-−]?\d+(?:[.,]\d+)?%?$/;

/** What parts the cells of a line. A comma does only if it stands after the rank: else it is a decimal one. */
function separator(line: string): RegExp {
  if (/[\t;|]/.test(line)) return /[\t;|]/;
  return /^\s*#?\d+\.?\s*,/.test(line) ? /,/ : /\s+/;
}

/** Reads a pasted table: in each line a rank, then a team of the event, then any numbers. */
export function readRanking(text: string, teams: readonly string[]): Pasted {
  const known = new Set(teams);
  const out: Pasted = { lines: [], problems: [], missing: [] };
  const seen = new Map<string, number>();
  text.split('\n').forEach((raw, i) => {
    const cells = raw
      .trim()
      .split(separator(raw))
      .map((c) => c.trim())
      .filter(Boolean);
    if (cells.length === 0) return;
    // The first number is the rank, the first of our teams after it the team.
    const at = cells.findIndex((c) => /^#?\d{1,3}\.?$/.test(c));
    const teamAt = cells.findIndex((c, k) => k > at && known.has(readTeam(c) ?? ''));
    if (at < 0 || teamAt < 0) {
      // A line of headings has no number at all and is no problem.
      if (cells.some((c) => /\d/.test(c)))
        out.problems.push(`Line ${i + 1}: no rank followed by a team of this event.`);
      return;
    }
    const team = readTeam(cells[teamAt]!)!;
    const before = seen.get(team);
    if (before !== undefined) {
      out.problems.push(`Line ${i + 1}: ${team} stands in line ${before} already.`);
      return;
    }
    seen.set(team, i + 1);
    out.lines.push({
      rank: Number(cells[at]!.replace(/\D/g, '')),
      team,
      numbers: cells.slice(teamAt + 1).flatMap((c) => {
        if (!NUMBER.test(c)) return [];
        const plain = c.replace('−', '-').replace(',', '.').replace('%', '');
        return [{ value: Number(plain), digits: plain.split('.')[1]?.length ?? 0 }];
      })
    });
  });
  out.missing = out.lines.length > 0 ? teams.filter((t) => !seen.has(t)) : [];
  return out;
}

/** A robot in our own ranking; see Ranked of the API. */
export interface Ours {
  team: string;
  rank: number;
  matches: number;
  total: number;
  ranking_points: number;
  figures: number[];
}

/** What a column of the venue's table was taken for. */
export interface Column {
  name: string;
  /** Our value for each robot. */
  of: (o: Ours) => number;
  agree: number;
  /** Robots whose value differs: the venue's less ours. */
  differ: { team: string; official: number; ours: number }[];
}

export interface Reconciled {
  /** Robots that stand elsewhere: the venue's place, ours. */
  moved: { team: string; official: number; ours: number }[];
  columns: Column[];
  /** Alliances all of whose robots have more (or fewer) ranking points at the venue than here. */
  alliances: { match: string; side: 'red' | 'blue'; teams: string[]; points: number }[];
  /** Two neighbours that the venue has the other way round, and the step that parts them here. */
  step?: { above: string; below: string; step: string; ours: [number, number] };
  /** What it comes to, in a sentence. */
  sentence: string;
}

/** A column is what most of its values agree with, or nearly all follow. */
const ENOUGH = 0.5;

export function reconcile(
  official: readonly Official[],
  ours: readonly Ours[],
  order: readonly string[],
  matches: readonly Match[],
  nameOf: (step: string) => string
): Reconciled {
  const mine = new Map(ours.map((o) => [o.team, o]));
  const pairs = official.flatMap((line) => {
    const o = mine.get(line.team);
    return o ? [{ line, o }] : [];
  });
  const moved = pairs
    .filter(({ line, o }) => line.rank !== o.rank)
    .map(({ line, o }) => ({ team: line.team, official: line.rank, ours: o.rank }));

  const candidates: { name: string; of: (o: Ours) => number }[] = [
    { name: 'ranking points in all', of: (o) => o.total },
    ...order.flatMap((step, i) => [
      { name: `${nameOf(step)} a match`, of: (o: Ours) => o.figures[i] ?? 0 },
      { name: `${nameOf(step)} in all`, of: (o: Ours) => (o.figures[i] ?? 0) * o.matches }
    ]),
    { name: 'matches', of: (o) => o.matches }
  ];
  const width = Math.max(0, ...pairs.map((p) => p.line.numbers.length));
  const columns: Column[] = [];
  for (let k = 0; k < width; k++) {
    const cells = pairs.flatMap(({ line, o }) => {
      const n = line.numbers[k];
      return n ? [{ team: line.team, n, o }] : [];
    });
    const best = candidates
      .filter((c) => !columns.some((used) => used.name === c.name))
      .map((c) => ({ ...c, agree: cells.filter(({ n, o }) => near(n, c.of(o))).length }))
      .sort((a, b) => b.agree - a.agree)[0];
    if (!best || best.agree === 0 || best.agree < ENOUGH * cells.length) continue;
    columns.push({
      ...best,
      differ: cells
        .filter(({ n, o }) => !near(n, best.of(o)))
        .map(({ team, n, o }) => ({ team, official: n.value, ours: best.of(o) }))
    });
  }

  const points = columns.find(
    (c) => c.name === candidates[0]!.name || c.name === `${nameOf('ranking_points')} a match`
  );
  const alliances = points ? suspects(points, mine, matches) : [];
  const step =
    moved.length > 0 && columns.every((c) => c.differ.length === 0)
      ? firstStep(official, mine, order)
      : undefined;
  return {
    moved,
    columns,
    alliances,
    ...(step ? { step: { ...step, step: nameOf(step.step) } } : {}),
    sentence: sentenceOf(pairs.length, moved.length, columns, alliances, step && nameOf(step.step))
  };
}

/** Equal to the digits that were written. */
function near(n: { value: number; digits: number }, value: number): boolean {
  return Math.abs(n.value - value) <= 0.5 * 10 ** -n.digits + 1e-9;
}

/** Matches in which a whole alliance is off by the same sign: there a ranking point was given, or not, otherwise than the game file says. */
function suspects(
  points: Column,
  mine: ReadonlyMap<string, Ours>,
  matches: readonly Match[]
): Reconciled['alliances'] {
  const off = new Map<string, number>();
  for (const d of points.differ) {
    const o = mine.get(d.team);
    const each = points.name.endsWith('in all') ? 1 : (o?.matches ?? 1);
    off.set(d.team, Math.round((d.official - d.ours) * each * 10) / 10);
  }
  const out: Reconciled['alliances'] = [];
  for (const m of lastPlays(matches)) {
    if (!m.match.startsWith('Q') || !m.red.result || !m.blue.result) continue;
    for (const side of ['red', 'blue'] as const) {
      const outside = new Set([...(m[side].surrogates ?? []), ...(m[side].disqualified ?? [])]);
      const teams = m[side].teams.filter((t) => !outside.has(t));
      const by = teams.map((t) => off.get(t) ?? 0);
      const least = Math.min(...by.map(Math.abs));
      if (teams.length === 0 || least === 0 || new Set(by.map(Math.sign)).size > 1) continue;
      out.push({ match: m.match, side, teams, points: least * Math.sign(by[0]!) });
    }
  }
  return out;
}

/** The first two neighbours at the venue that stand the other way here, and what parts them here. */
function firstStep(
  official: readonly Official[],
  mine: ReadonlyMap<string, Ours>,
  order: readonly string[]
): Reconciled['step'] {
  const sorted = [...official].sort((a, b) => a.rank - b.rank);
  for (let i = 1; i < sorted.length; i++) {
    const above = mine.get(sorted[i - 1]!.team);
    const below = mine.get(sorted[i]!.team);
    if (!above || !below || above.rank <= below.rank) continue;
    const at = order.findIndex((_, k) => Math.abs((above.figures[k] ?? 0) - (below.figures[k] ?? 0)) > 1e-9);
    if (at < 0) continue;
    return {
      above: above.team,
      below: below.team,
      step: order[at]!,
      ours: [above.figures[at]!, below.figures[at]!]
    };
  }
  return undefined;
}

function sentenceOf(
  compared: number,
  moved: number,
  columns: Column[],
  alliances: Reconciled['alliances'],
  step: string | undefined
): string {
  const off = columns.filter((c) => c.differ.length > 0);
  if (compared === 0) return 'Nothing to compare yet.';
  if (moved === 0 && off.length === 0)
    return `All ${compared} robots stand where the game file puts them${columns.length > 0 ? ', figures included' : ''}.`;
  if (off.length > 0) {
    const where =
      alliances.length > 0 && alliances.length <= 6
        ? ` Look at ${alliances.map((a) => `${a.match} ${a.side}`).join(', ')} first.`
        : '';
    const worst = off[0]!;
    return worst.differ.length * 2 > worst.agree + worst.differ.length
      ? `${worst.name} differ for most robots: the game file’s ranking points are probably wrong.`
      : `${off.map((c) => `${c.name}: ${c.differ.length} of ${c.agree + c.differ.length} robots differ`).join('; ')}.${where}`;
  }
  if (step)
    return `The figures agree, the order does not: “${step}” decides too early in the game file’s ranking order.`;
  return `${moved} of ${compared} robots stand elsewhere at the venue.`;
}

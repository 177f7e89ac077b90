/** The rota on paper: days, who watches which robot by match, and a strip for each scout. */
import { weekday } from '$lib/figures';
import { sideOf } from '$lib/state/matches';
import { restsOf, type Line } from './overview';

export interface PaperDay {
  /** The day's first start; undefined: the schedule has no times. */
  at: Date | undefined;
  lines: Line[];
}

/** Lines in playing order, cut where the day changes. */
export function daysOf(lines: readonly Line[], zone: string): PaperDay[] {
  const out: PaperDay[] = [];
  let day: string | undefined;
  for (const line of lines) {
    const is = line.start && weekday(line.start, zone);
    if (out.length === 0 || (is !== undefined && day !== undefined && is !== day))
      out.push({ at: line.start, lines: [] });
    day = is ?? day;
    out.at(-1)?.lines.push(line);
  }
  return out;
}

const sides = ['red', 'blue'] as const;

export interface Place {
  team: string;
  scouts: string[];
}

/** An alliance's robots in the order of their stations, and who watches each. */
export const placesOf = (line: Line, side: 'red' | 'blue'): Place[] =>
  line.match[side].teams.map((team) => ({
    team,
    scouts: line.seats.filter((s) => s.seat.team === team).map((s) => s.seat.scout)
  }));

/** A line of a scout's strip: a match, or a rest of some matches. */
export type Stop =
  | { match: string; start: Date | undefined; team: string; side: 'red' | 'blue' | undefined }
  | { rests: string };

export interface Strip {
  scout: string;
  stops: Stop[];
}

/** Each scout's day, by name; who watches nothing on that day has no strip. */
export function stripsOf(lines: readonly Line[]): Strip[] {
  const seats = lines.flatMap((l) => l.seats.map((s) => s.seat));
  const matches = lines.map((l) => l.match.match);
  const scouts = [...new Set(seats.map((s) => s.scout))].sort();
  return scouts.map((scout) => {
    const rests = new Map(restsOf(seats, scout, matches).map((r) => [r.split('–')[0] ?? '', r]));
    const stops = lines.flatMap((l): Stop[] => {
      const seat = l.seats.find((s) => s.seat.scout === scout)?.seat;
      const { match } = l.match;
      if (seat?.team) return [{ match, start: l.start, team: seat.team, side: sideOf(l.match, seat.team) }];
      const rest = rests.get(match);
      return rest ? [{ rests: rest }] : [];
    });
    return { scout, stops };
  });
}

/** Heights and widths that a sheet has room for in points: US Letter is the shorter, A4 the narrower. */
const TALL = 660;
const WIDE = 525;
/** Nobody reads smaller type in the stands, common practice, no source; longer tables go on to the next sheet. */
const SMALLEST = 7;
const LARGEST = 11;
/** Around a line of text, in points: its padding and rule. */
const AIR = 2.2;

/** Of a sheet's width, in points: match and time; and what surrounds the text of a place. */
const MATCH_COLUMN = 68;
const AROUND = 9;
/** A character is about so wide in its own height; measured on our type, bold figures and names. */
const CHARACTER = 0.54;

/** The type size in points with which so many lines fill a sheet, or less of it, at most. */
export const sizeFor = (lines: number, largest = LARGEST, tall = TALL): number =>
  Math.max(SMALLEST, Math.floor(10 * Math.min(largest, (tall / Math.max(1, lines) - AIR) / 1.2)) / 10);

/** The lines of the table by match: two scouts at one robot stand below each other. */
const tableLines = (lines: readonly Line[]): number =>
  lines
    .map((l) => Math.max(1, ...sides.flatMap((c) => placesOf(l, c).map((p) => p.scouts.length))))
    .reduce((a, b) => a + b, 1);

/** The type of the table by match, and whether scouts stand below their robot rather than beside it. */
export interface TableLayout {
  size: number;
  stacked: boolean;
}

/** How the table by match stands: its lines fit a sheet, and a robot with one scout fits its place, in the larger type. */
export function tableLayout(lines: readonly Line[], robots: number): TableLayout {
  const places = lines.flatMap((l) => sides.flatMap((c) => placesOf(l, c)));
  /** The type in which the longest text of a robot and one scout is no wider than a place. */
  const fits = (characters: (team: string, scout: string) => number) =>
    Math.min(
      LARGEST,
      ((WIDE - MATCH_COLUMN) / (2 * robots) - AROUND) /
        (CHARACTER * Math.max(1, ...places.flatMap((p) => p.scouts.map((s) => characters(p.team, s)))))
    );
  const rows = tableLines(lines);
  const beside = sizeFor(
    rows,
    fits((t, s) => t.length + 1 + s.length)
  );
  const below = sizeFor(
    rows + lines.length,
    fits((t, s) => Math.max(t.length, s.length))
  );
  return below > beside ? { size: below, stacked: true } : { size: beside, stacked: false };
}

/** The lines of all strips, with a name above each row of them. */
const stripLines = (strips: readonly Strip[], across: number): number =>
  Math.ceil(strips.length / across) * (3 + Math.max(0, ...strips.map((s) => s.stops.length)));

/** How strips stand: so many side by side, and the type that fits. */
export function stripLayout(strips: readonly Strip[]): { across: number; size: number } {
  const across = Math.min(6, Math.max(1, strips.length));
  // A line is 17 characters beside some air.
  const fits = (WIDE / across - 14) / (17 * CHARACTER);
  return { across, size: sizeFor(stripLines(strips, across), Math.min(LARGEST, fits)) };
}

/** Both tables of a day stand on one sheet where this size of type still fits them; so much a second title and foot take. */
const TOGETHER = 8;
const SECOND = 70;

/** How both tables of a day stand: on one sheet if they can be read there, else each fills its own. */
export function dayLayout(lines: readonly Line[], robots: number) {
  const strips = stripsOf(lines);
  const table = tableLayout(lines, robots);
  const cut = stripLayout(strips);
  const rows = tableLines(lines) + (table.stacked ? lines.length : 0);
  const both = sizeFor(rows + stripLines(strips, cut.across), LARGEST, TALL - SECOND);
  const limit = both >= TOGETHER ? both : LARGEST;
  return {
    table: { ...table, size: Math.min(table.size, limit) },
    strips,
    cut: { ...cut, size: Math.min(cut.size, limit) }
  };
}

// A sketch: what is drawn for one match at one time. Every mark is a record of
// its own, so that two people who draw at once lose nothing.

import type { Point, SketchBody } from '$lib/api';
import { matchLength, spans } from '$lib/game/clock';
import type { Field, Game } from '$lib/game/types';

/** A game without a drawing has a plain floor of about this size. */
export const plainField: Field = { length_m: 16, width_m: 8 };

interface Mark {
  record_id: string;
  body: SketchBody;
}

export interface Standing {
  team: string;
  at: Point;
  /** It was put there at this time; if not, it still stands where it was put last. */
  here: boolean;
  /** Where it stood before it was put here. */
  from: Point | undefined;
}

export interface Scene {
  strokes: { id: string; points: Point[] }[];
  words: { id: string; text: string; at: Point }[];
  robots: Standing[];
}

/** Times that lie closer to a change of period than this are left out of the strip. */
const NEAR = 8;
const STEP = 20;

/** The times that one draws at, in seconds: the start, every change of period, and every 20 s between. */
export function strip(game: Pick<Game, 'periods'>): number[] {
  const end = Math.round(matchLength(game) / 1000);
  const changes = [...new Set(spans(game).map((s) => Math.round(s.from / 1000)))].sort((a, b) => a - b);
  const out = new Set([0, ...changes]);
  for (let s = STEP; s < end; s += STEP)
    if (changes.every((c) => Math.abs(c - s) > NEAR) && end - s > NEAR) out.add(s);
  return [...out].sort((a, b) => a - b);
}

const shown = (marks: readonly Mark[], match: string): Mark[] =>
  marks.filter((m) => m.body.match === match && !m.body.removed);

/** The times at which something is drawn. */
export const drawnAt = (marks: readonly Mark[], match: string): number[] =>
  [...new Set(shown(marks, match).map((m) => m.body.second))].sort((a, b) => a - b);

/** Where robots wait that nobody has put anywhere: red at its end, blue at its own. */
export function waiting(field: Field, red: readonly string[], blue: readonly string[]): Map<string, Point> {
  const out = new Map<string, Point>();
  for (const [teams, x] of [
    [red, field.length_m * 0.05],
    [blue, field.length_m * 0.95]
  ] as const) {
    teams.forEach((t, i) => out.set(t, [x, (field.width_m * (i + 1)) / (teams.length + 1)]));
  }
  return out;
}

/** What shows at a time. */
export function sceneAt(
  marks: readonly Mark[],
  match: string,
  second: number,
  start: ReadonlyMap<string, Point>
): Scene {
  const all = shown(marks, match);
  const now = all.filter((m) => m.body.second === second);
  const robots = [...start].map(([team, first]): Standing => {
    const put = all
      .filter((m) => m.body.team === team && m.body.place && m.body.second <= second)
      .sort((a, b) => a.body.second - b.body.second);
    const last = put.at(-1);
    const here = last?.body.second === second;
    const before = here ? put.at(-2) : undefined;
    return {
      team,
      at: last?.body.place ?? first,
      here,
      from: here && second > 0 ? (before?.body.place ?? first) : undefined
    };
  });
  return {
    strokes: now.flatMap((m) => (m.body.ink ? [{ id: m.record_id, points: m.body.ink }] : [])),
    words: now.flatMap((m) =>
      m.body.text && m.body.place ? [{ id: m.record_id, text: m.body.text, at: m.body.place }] : []
    ),
    robots
  };
}

/** The server takes strokes of so many points. */
const MOST = 500;
/** Points closer than this, in metres, tell nothing. */
const CLOSE = 0.08;

/** A stroke without the points that tell nothing; its first and last stay. */
export function thinned(points: readonly Point[]): Point[] {
  const out: Point[] = [];
  for (const p of points) {
    const last = out.at(-1);
    if (!last || Math.hypot(p[0] - last[0], p[1] - last[1]) >= CLOSE) out.push(p);
  }
  const end = points.at(-1);
  if (end && out.at(-1) !== end) out.push(end);
  const every = Math.ceil(out.length / (MOST - 1));
  return out.filter((_, i) => i % every === 0 || i === out.length - 1);
}

const away = (a: Point, b: Point) => Math.hypot(a[0] - b[0], a[1] - b[1]);

/** The robot under a finger: the nearest within `reach` metres. */
export function robotAt(scene: Scene, at: Point, reach: number): Standing | undefined {
  const [near] = [...scene.robots].sort((a, b) => away(a.at, at) - away(b.at, at));
  return near && away(near.at, at) <= reach ? near : undefined;
}

/** The stroke or word under a finger. */
export function markAt(scene: Scene, at: Point, reach: number): string | undefined {
  const all = [
    ...scene.words.map((w) => ({ id: w.id, d: away(w.at, at) })),
    ...scene.strokes.map((s) => ({ id: s.id, d: Math.min(...s.points.map((p) => away(p, at))) }))
  ].sort((a, b) => a.d - b.d);
  return all[0] && all[0].d <= reach ? all[0].id : undefined;
}

/** The same in words, for who cannot see it. */
export function sceneWords(scene: Scene, second: number): string {
  const put = scene.robots.filter((r) => r.here).map((r) => `${r.team} is moved`);
  const parts = [
    ...put,
    ...(scene.strokes.length > 0 ? [`${scene.strokes.length} lines`] : []),
    ...scene.words.map((w) => `“${w.text}”`)
  ];
  return `Field at second ${second}: ${parts.join(', ') || 'nothing is drawn yet'}`;
}

/** The vectors that Go's scoring reads too: testdata/scoring/README.md. */
import { describe, expect, it } from 'vitest';
import { gameFile, testdata } from './fixtures';
import { playedFrom, score, type Scored } from './score';
import type { Observed } from './observed';

interface Want {
  points: number;
  from_fouls: number;
  components: Record<string, number>;
  ranking_points: string[];
  ranking: number;
  robots: number[];
  rest: number;
  credited: Record<string, number>;
}
interface Vector {
  game: string;
  name: string;
  match: { red: Observed[]; blue: Observed[] };
  want: { red: Want; blue: Want };
}

/** Numbers as they are compared: to a thousandth of a millionth. */
const rounded = (value: unknown): unknown =>
  JSON.parse(
    JSON.stringify(value, (_, v: unknown) => (typeof v === 'number' ? Math.round(v * 1e9) / 1e9 + 0 : v))
  );

function compare(want: Want, got: Scored) {
  const credited = Object.fromEntries(Object.keys(want.credited).map((id) => [id, got.credited[id] ?? 0]));
  const have: Want = {
    points: got.points,
    from_fouls: got.fromFouls,
    components: got.components,
    ranking_points: [...got.rankingPoints].sort(),
    ranking: got.ranking,
    robots: got.robots,
    rest: got.rest,
    credited
  };
  expect(rounded(have)).toEqual(rounded({ ...want, ranking_points: [...want.ranking_points].sort() }));
}

describe.each(['slackwater', 'millrace', 'stonefield'])('%s', (name) => {
  it.each(testdata<Vector[]>(`scoring/${name}.json`).map((v) => [v.name, v] as const))('%s', (_, v) => {
    const game = gameFile(v.game);
    const red = playedFrom(game, v.match.red);
    const blue = playedFrom(game, v.match.blue);
    const [gotRed, gotBlue] = score(game, red, blue);
    compare(v.want.red, gotRed);
    compare(v.want.blue, gotBlue);
    // The sides are alike: exchanged, they get each other's scores.
    const [asRed, asBlue] = score(game, blue, red);
    compare(v.want.blue, asRed);
    compare(v.want.red, asBlue);
  });
});

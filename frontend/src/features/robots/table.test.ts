import { describe, expect, it } from 'vitest';
import { columnScale, columnsOf, fitColumns, periodFigure, trendText, type RobotRow } from './columns';
import { comparedColumns, compareSentence, density, rangeOf, readTeams, spreadOf } from './compare';
import { estimate, game } from './fixture';
import { filtersOf } from './rows';
import type { Summary } from './seen';
import { moved, parseKept, withName } from './views';

const row = (team: string, now: number, more: Parameters<typeof estimate>[3] = {}, sd = 2): RobotRow => ({
  team,
  name: '',
  ours: false,
  estimate: estimate(team, now, sd, more)
});
const actions = {
  leave: { mean: 0.9, sd: 0.1 },
  auto_crate: { mean: 2, sd: 0.5, accuracy: { share: 0.6, low: 0.5, high: 0.7, tries: 20 } },
  crate: { mean: 4, sd: 0.4 },
  'dock:high': { mean: 0.5, sd: 0.2 }
};
const summary = (more: Partial<Summary>): Summary => ({ points: [], starts: new Map(), ...more });
const ids = (columns: { id: string }[]) => columns.map((c) => c.id);

describe('columns', () => {
  const columns = columnsOf(game, [row('1', 10, { actions })]);
  const byId = (id: string) => columns.find((c) => c.id === id)!;

  it('by period add up points, the spread as of independent actions', () => {
    // 0.9·3 + 2·6; √((0.1·3)² + (0.5·6)²)
    expect(periodFigure(game, row('1', 10, { actions }), 'auto')?.mean).toBeCloseTo(14.7);
    expect(periodFigure(game, row('1', 10, { actions }), 'auto')?.sd).toBeCloseTo(Math.hypot(0.3, 3));
    expect(periodFigure(game, row('1', 10), 'auto')).toBeUndefined();
    expect(byId('period:auto').text(row('1', 10))).toBe('–');
  });

  it('of accuracy draw the interval that the estimates have', () => {
    expect(byId('accuracy:auto_crate').drawn?.(row('1', 10, { actions }))).toEqual({
      mean: 0.6,
      half: [0.5, 0.7]
    });
    expect(byId('accuracy:crate').drawn?.(row('1', 10, { actions }))).toBeUndefined();
    expect(columns.some((c) => c.id === 'accuracy:scrap')).toBe(false); // no misses recorded
  });

  it('tell a trend only of enough matches, and say when there is none', () => {
    const rising = summary({ trend: { value: 1.5, range: [0.5, 2.2], n: 6 } });
    expect(trendText(rising)).toMatchObject({ text: '+1.5', sure: true });
    expect(trendText(summary({ trend: { value: 1.5, range: [-0.5, 2.2], n: 6 } })).sure).toBe(false);
    expect(trendText(summary({ trend: { value: 1.5, range: [0.5, 2.2], n: 4 } })).text).toBe('too few');
    expect(byId('trend').value({ ...row('1', 10), seen: summary({}) })).toBeUndefined();
    const chip = filtersOf(game, undefined).find((f) => f.id === 'rising');
    expect(chip?.keeps({ ...row('1', 10), seen: rising })).toBe(true);
    expect(chip?.keeps(row('1', 10))).toBe(false);
  });

  it('of official components are there once one was published', () => {
    expect(columns.some((c) => c.id === 'ls:component:docking')).toBe(false);
    const r = { ...row('1', 10), components: new Map([['docking', undefined]]) };
    const docking = columnsOf(game, [r]).find((c) => c.id === 'ls:component:docking');
    expect(docking?.text(r)).toBe('not determined yet');
    expect(docking?.text({ ...r, components: new Map([['docking', 4.25]]) })).toBe('4.3');
  });

  it('share one scale; a robot of which nothing is known does not squeeze the others', () => {
    const rows = [2, 3, 4].map((mean, i) => row(String(i), 10, { actions: { crate: { mean, sd: 0.5 } } }));
    const wild = row('9', 10, { actions: { crate: { mean: 3, sd: 50 } } });
    const place = columnScale(byId('action:crate'), [...rows, wild]);
    expect(place(0)).toBe(0);
    expect(place(4)).toBeGreaterThan(0.6);
  });

  it('are left out from the end when somebody ordered them', () => {
    const chosen = ['seen', 'action:crate', 'stops'];
    expect(ids(fitColumns(columns, chosen, 2000, 0).shown)).toEqual(chosen);
    const narrow = fitColumns(columns, chosen, 200, 0);
    expect(ids(narrow.shown)).toEqual(chosen.slice(0, narrow.shown.length));
    expect(narrow.shown.length + narrow.left).toBe(3);
    expect(narrow.left).toBeGreaterThan(0);
    expect(ids(fitColumns(columns, ['gone', 'stops'], 2000, 0).shown)).toEqual(['stops']);
  });
});

describe('kept columns', () => {
  it.each([
    [null, { named: [] }],
    ['{"x', { named: [] }],
    ['["a","b",3]', { chosen: ['a', 'b'], named: [] }],
    [
      '{"chosen":["a"],"named":[{"name":"Mine","columns":["b"]},{"name":4},null]}',
      { chosen: ['a'], named: [{ name: 'Mine', columns: ['b'] }] }
    ]
  ])('%s', (text, want) => {
    expect(parseKept(text)).toEqual(want);
  });

  it('move by one and stop at the ends', () => {
    expect(moved(['a', 'b', 'c'], 'c', -1)).toEqual(['a', 'c', 'b']);
    expect(moved(['a', 'b'], 'a', -1)).toEqual(['a', 'b']);
    expect(moved(['a', 'b'], 'b', 1)).toEqual(['a', 'b']);
  });

  it('replace what has the same name', () => {
    const once = withName({ named: [] }, 'Mine', ['a']);
    expect(withName(once, 'Mine', ['b']).named).toEqual([{ name: 'Mine', columns: ['b'] }]);
  });
});

describe('comparing', () => {
  const rows = [row('1', 20), row('2', 10), row('3', 19)];

  it('takes two to four known teams, each once', () => {
    expect(readTeams('2,1,2,77', rows).map((r) => r.team)).toEqual(['2', '1']);
    expect(readTeams(null, rows)).toEqual([]);
    expect(readTeams('1,2,3,4,5,6', [...rows, row('4', 1), row('5', 1)])).toHaveLength(4);
  });

  it('has densities of area 1', () => {
    const spread = spreadOf(rows[0]!, 'now')!;
    const points = density(spread, rangeOf([spread]), 1000);
    const area = points
      .slice(1)
      .reduce((sum, p, i) => sum + ((p.y + points[i]!.y) / 2) * (p.x - points[i]!.x), 0);
    expect(area).toBeCloseTo(1, 2);
    expect(spreadOf(rows[0]!, 'working')).toBeUndefined();
  });

  it('says who is ahead, and when it is too close to call', () => {
    const apart = () => 0;
    expect(compareSentence(rows.slice(0, 2), apart)).toBe(
      '1 is virtually certain to be stronger than 2 next: >99\u00a0%.'
    );
    expect(compareSentence([rows[0]!, rows[2]!], apart)).toMatch(/^1 and 3 are too close to call: 64.%/);
    // What is not known of both alike does not blur who is ahead.
    expect(compareSentence([rows[0]!, rows[2]!], () => 3)).toMatch(
      /^1 is likely to be stronger than 3 next: 76.%/
    );
    expect(compareSentence([rows[0]!, { team: '9', name: '', ours: false }], apart)).toBe(
      'Too little data to compare them yet.'
    );
  });

  it('leaves out figures of which nothing is known', () => {
    const columns = columnsOf(game, rows);
    const shown = comparedColumns(columns, [row('1', 20, { actions })]).flatMap((g) => ids(g.columns));
    expect(shown).toContain('action:crate');
    expect(shown).not.toContain('action:scrap');
    expect(shown).not.toContain('ls:offence');
  });
});

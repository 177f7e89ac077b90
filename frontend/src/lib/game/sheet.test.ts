import { describe, expect, it } from 'vitest';
import { gameFile, testdata } from './fixtures';
import { observed, sheetOf } from './observed';
import * as sheets from './sheet';
import type { Observed } from './observed';
import type { Sheet } from './sheet';
import type { Game } from './types';

interface Vector {
  game: string;
  name: string;
  form: {
    match: string;
    play?: number;
    team: string;
    scout: string;
    answers: Record<string, string>;
    end_ms: number;
  };
  taps: ([number, string, number] | [number, string, number, number, number])[];
  body: Observed;
}

describe('the form saves what testdata/scoring/form.json says', () => {
  it.each(testdata<Vector[]>('scoring/form.json'))('$name', ({ game, form, taps, body }) => {
    let s = sheets.start(sheets.emptySheet(form.match, form.play ?? 1, form.team, form.scout), 0);
    for (const [ms, id, step, x, y] of taps) {
      s = sheets.tap(s, ms, id, step, x !== undefined && y !== undefined ? [x, y] : undefined);
    }
    for (const [id, value] of Object.entries(form.answers)) s = sheets.setAnswer(s, id, value);
    expect(observed(gameFile(game), s, form.end_ms)).toEqual(body);
  });

  it.each(testdata<Vector[]>('scoring/form.json'))(
    '$name, opened again and saved unchanged',
    ({ game, body }) => {
      const g = gameFile(game);
      expect(observed(g, sheetOf(g, body), 0)).toEqual(body);
    }
  );
});

const slackwater = gameFile('slackwater.json');
const stonefield = gameFile('stonefield.json');
const action = (game: Game, id: string) => game.actions.find((a) => a.id === id)!;
const empty = () => sheets.emptySheet('Q1', 1, '40117', 's03');

describe('choices', () => {
  const mooring = action(slackwater, 'mooring');

  it('put the change of mind on the time line', () => {
    let s = sheets.choose(empty(), 1000, mooring, 'moored');
    s = sheets.choose(s, 3000, mooring, 'lifted');
    const body = observed(slackwater, s, 5000);
    expect(body.choices).toEqual({ mooring: { option: 'lifted' } });
    expect(body.taps).toEqual([
      [0, 'mooring:moored', 1],
      [2000, 'mooring:moored', -1],
      [2000, 'mooring:lifted', 1]
    ]);
    expect(body.edited).toBeUndefined();
  });

  it('are left out when taken back: not watched is no option', () => {
    let s = sheets.choose(empty(), 0, mooring, 'lifted');
    s = sheets.choose(s, 10, mooring, undefined);
    expect(observed(slackwater, s, 5000).choices).toBeUndefined();
  });

  it('keep that it was tried', () => {
    const shelter = action(stonefield, 'shelter');
    let s = sheets.setTried(empty(), 0, shelter, true);
    expect(observed(stonefield, s, 10).choices).toEqual({ shelter: { tried: true } });
    s = sheets.choose(s, 5, shelter, 'porch');
    s = sheets.setTried(s, 6, shelter, false);
    expect(observed(stonefield, s, 10).choices).toEqual({
      shelter: { option: 'porch', tried: false }
    });
  });
});

describe('what was not watched', () => {
  it('is left out, and comes back with the next tap', () => {
    let s = sheets.setWatched(empty(), ['deck', 'deck_missed', 'minor'], false);
    let body = observed(slackwater, s, 0);
    expect(body.counts).not.toHaveProperty('deck');
    expect(body.fouls).toEqual({ major: 0 });
    s = sheets.tap(s, 0, 'deck_missed');
    body = observed(slackwater, s, 0);
    expect(body.counts?.deck).toEqual({ made: 0, missed: 1 });
  });

  it('stays so through a correction of something else', () => {
    const body: Observed = {
      match: 'Q1',
      team: '40117',
      scout: 's03',
      counts: { deck: { made: 3 }, hold: { made: 1, missed: 0 } },
      choices: { mooring: { option: 'none' } },
      fouls: { major: 1 }
    };
    const s = sheets.setByHand(sheetOf(slackwater, body), 'hold', 2);
    expect(observed(slackwater, s, 0)).toEqual({
      ...body,
      counts: { deck: { made: 3 }, hold: { made: 2, missed: 0 } },
      edited: true
    });
  });

  it('of an absent robot is everything', () => {
    const s: Sheet = { ...sheets.tap(empty(), 0, 'deck'), absent: true, note: ' no show ' };
    expect(observed(slackwater, s, 10)).toEqual({
      match: 'Q1',
      team: '40117',
      scout: 's03',
      absent: true,
      note: 'no show'
    });
  });
});

describe('the clock', () => {
  it('starts with the first tap and moves all times when it is nudged', () => {
    let s = sheets.tap(empty(), 50_000, 'deck');
    s = sheets.tap(s, 53_000, 'deck');
    s = sheets.nudge(s, 2_000);
    expect(observed(slackwater, s, 60_000).taps).toEqual([
      [2000, 'deck', 1],
      [5000, 'deck', 1]
    ]);
    s = sheets.nudge(s, -9_000);
    expect(observed(slackwater, s, 60_000).taps?.[0]?.[0]).toBe(0);
  });

  it('gives each second to one of scoring, feeding, defending, stopped', () => {
    let s = sheets.start(empty(), 0);
    s = sheets.nowDoing(s, 10_000, stonefield, 'guarding');
    s = sheets.nowDoing(s, 20_000, stonefield, 'stopped');
    s = sheets.nowDoing(s, 20_000, stonefield, 'stopped');
    s = sheets.nowDoing(s, 25_000, stonefield, undefined);
    const at = (q: string) => sheets.secondsOf(s, q, 30_000);
    expect([at('guarding'), at('stopped'), at('feeding')]).toEqual([10, 5, 0]);
    expect(sheets.isOn(s, 'stopped')).toBe(false);
  });

  it('keeps answers about seconds within what the game allows', () => {
    let s = sheets.nowDoing(sheets.start(empty(), 0), 0, slackwater, 'stopped');
    expect(observed(slackwater, s, 153_000).answers?.stopped).toBe(150);
    s = sheets.setAnswer(s, 'stopped', 7);
    expect(observed(slackwater, s, 153_000).answers?.stopped).toBe(7);
  });
});

describe('corrections by hand', () => {
  it('win over the taps, say so, and move with later taps', () => {
    let s = sheets.tap(sheets.tap(empty(), 0, 'deck'), 5, 'deck');
    s = sheets.setByHand(s, 'deck', 4);
    expect(observed(slackwater, s, 10)).toMatchObject({ counts: { deck: { made: 4 } }, edited: true });
    s = sheets.tap(s, 9, 'deck');
    expect(sheets.countOf(s, 'deck')).toBe(5);
  });

  it('back to what the taps say are none', () => {
    let s = sheets.setByHand(sheets.tap(empty(), 0, 'deck'), 'deck', 2);
    s = sheets.setByHand(s, 'deck', 1);
    expect(observed(slackwater, s, 10).edited).toBeUndefined();
  });
});

/** A small generator with a seed (mulberry32), so that a failure can be looked at again. */
function random(seed: number): () => number {
  return () => {
    seed = (seed + 0x6d2b79f5) | 0;
    let t = Math.imul(seed ^ (seed >>> 15), 1 | seed);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

describe('any sequence of taps and undos', () => {
  it('gives the counts of a plain model', () => {
    for (let seed = 1; seed <= 200; seed++) {
      const next = random(seed);
      const ids = [...sheets.tappable(stonefield)];
      let s = empty();
      const model: { id: string; step: number }[] = []; // the taps that stand
      for (let i = 0; i < 60; i++) {
        const strip = sheets.recent(s, new Set(ids), 10);
        if (next() < 0.35 && strip.length > 0) {
          const entry = strip[Math.floor(next() * strip.length)]!;
          s = sheets.takeBack(s, i * 100, entry);
          model.splice(
            model.findLastIndex((m) => m.id === entry.id && m.step === entry.step),
            1
          );
        } else {
          const id = ids[Math.floor(next() * ids.length)]!;
          const step = id === 'seed' ? [1, 5, 20][Math.floor(next() * 3)]! : 1;
          s = sheets.tap(s, i * 100, id, step);
          model.push({ id, step });
        }
        const shown = sheets.recent(s, new Set(ids), 10).map((e) => e.id);
        expect(shown, `seed ${seed}, strip`).toEqual(
          model
            .slice(-10)
            .reverse()
            .map((m) => m.id)
        );
      }
      for (const id of ids) {
        const want = model.filter((m) => m.id === id).reduce((sum, m) => sum + m.step, 0);
        expect(sheets.countOf(s, id), `seed ${seed}, ${id}`).toBe(want);
      }
    }
  });

  it('leaves an earlier sheet what it was, whatever was asked of the later one', () => {
    const one = sheets.tap(empty(), 0, 'stone');
    expect(sheets.countOf(one, 'stone')).toBe(1);
    const two = sheets.tap(one, 100, 'stone');
    const other = sheets.tap(one, 200, 'turf');
    expect([two, one, other].map((s) => sheets.countOf(s, 'stone'))).toEqual([2, 1, 1]);
    expect(sheets.recent(one, new Set(['stone']), 10)).toHaveLength(1);
    const [entry] = two.entries;
    expect(sheets.countOf(sheets.grow(two, entry!, 5), 'stone')).toBe(6);
  });
});

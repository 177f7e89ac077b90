import { describe, expect, it } from 'vitest';
import { gameFile } from '$lib/game/fixtures';
import { placeAt, scriptOf, seenOf, truthOf } from './script';

describe.each(['slackwater.json', 'millrace.json', 'stonefield.json'])('%s', (name) => {
  const game = gameFile(name);
  it('gives the same match for the same seed, and another for another', () => {
    expect(scriptOf(game, 7, 40)).toEqual(scriptOf(game, 7, 40));
    expect(scriptOf(game, 8, 40)).not.toEqual(scriptOf(game, 7, 40));
  });
  it.each([1, 2, 3, 4, 5])('tells a truth that its moments add up to, seed %i', (seed) => {
    const script = scriptOf(game, seed, 120);
    const truth = truthOf(game, script);
    const sum = Object.values(truth).reduce((n, t) => n + (t.made ?? 0) + (t.missed ?? 0), 0);
    const choices = script.moments.filter((m) => m.what === 'option').length;
    expect(sum).toBe(
      script.moments.length - choices + Object.keys(truth).filter((id) => id.includes(':')).length
    );
    expect(script.moments.length).toBeGreaterThan(10);
    for (const m of script.moments) {
      expect(m.at).toBeGreaterThanOrEqual(0);
      expect(m.at).toBeLessThan(120_000);
      if (script.stop) expect(m.at < script.stop.from || m.at > script.stop.to).toBe(true);
      expect(m.action.by).not.toBe('alliance');
    }
  });
});

it('reads a record as what was seen, and leaves out what was not said', () => {
  const game = gameFile('slackwater.json');
  const truth = { deck: { made: 4, missed: 1 }, hold: { made: 2, missed: 0 }, 'mooring:lifted': { made: 1 } };
  expect(
    seenOf(game, truth, {
      counts: { deck: { made: 3, missed: 1 } },
      choices: { mooring: { option: 'none' } }
    })
  ).toEqual({
    deck: { made: 3, missed: 1 },
    'mooring:lifted': { made: 0 }
  });
  expect(seenOf(game, truth, {})).toEqual({});
});

it('stands still while it is stopped, and goes on from there', () => {
  const script = { seed: 3, seconds: 40, moments: [], stop: { from: 10_000, to: 15_000 } };
  expect(placeAt(script, 12_000)).toEqual(placeAt(script, 10_000));
  expect(placeAt(script, 15_000)).toEqual(placeAt(script, 10_000));
  expect(placeAt(script, 16_000)).toEqual(placeAt({ ...script, stop: undefined }, 11_000));
});

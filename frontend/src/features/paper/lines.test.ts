import { gameFile } from '$lib/game/fixtures';
import { describe, expect, it } from 'vitest';
import { bodyOf, groupsOf, readLine, stationTeam, type Line, type Value } from './lines';

const games = ['slackwater.json', 'millrace.json', 'stonefield.json'];
const line = (file: string, id: string): Line =>
  groupsOf(gameFile(file))
    .flatMap((g) => g.lines)
    .find((l) => l.id === id)!;

describe('the lines of a sheet', () => {
  it.each(games)('%s: every action, miss, foul and question of a match once', (file) => {
    const game = gameFile(file);
    const ids = groupsOf(game).flatMap((g) => g.lines.map((l) => l.id));
    expect(new Set(ids).size).toBe(ids.length);
    const want = [
      ...game.actions.flatMap((a) => [
        a.id,
        ...(a.misses ? [`${a.id}_missed`] : []),
        ...(a.tried ? [`${a.id}_tried`] : [])
      ]),
      ...(game.fouls ?? []).map((f) => f.id),
      ...(game.questions ?? []).filter((q) => q.when === 'match').map((q) => q.id)
    ];
    expect([...ids].sort()).toEqual([...want].sort());
  });
  it('follow the match: start position first, then the periods in order', () => {
    expect(groupsOf(gameFile('slackwater.json')).map((g) => g.id)).toEqual([
      'start',
      'auto',
      'driver',
      'endgame',
      'fouls',
      'asked'
    ]);
  });
});

describe('what is typed', () => {
  const cases: [string, string, string, Value | undefined][] = [
    ['slackwater.json', 'deck', '5', 5],
    ['slackwater.json', 'deck', ' 5+5+2 ', 12],
    ['slackwater.json', 'deck', '0', 0],
    ['slackwater.json', 'deck', '', undefined],
    ['slackwater.json', 'cast_off', '1', true],
    ['slackwater.json', 'cast_off', 'n', false],
    ['slackwater.json', 'mooring', '2', 'lifted'],
    ['slackwater.json', 'mooring', 'lif', 'lifted'],
    ['slackwater.json', 'start', 'm', 'middle'],
    ['slackwater.json', 'stopped', '12,5', 12.5],
    ['millrace.json', 'ramp_tried', 'y', true]
  ];
  it.each(cases)('%s %s: “%s” is %s', (file, id, text, want) => {
    expect(readLine(line(file, id), text)).toEqual(want === undefined ? {} : { value: want });
  });
  const bad: [string, string, RegExp][] = [
    ['deck', '5.5', /whole number/],
    ['deck', '-1', /whole number/],
    ['deck', '999+1', /outside 0 to 999/],
    ['cast_off', '2', /type 1 or 0/],
    ['mooring', '3', /2 for Lifted/],
    ['mooring', 'x', /0 for None/],
    ['stopped', '151', /outside 0 to 150/]
  ];
  it.each(bad)('%s: “%s” is refused in words', (id, text, want) => {
    expect(readLine(line('slackwater.json', id), text).problem).toMatch(want);
  });
});

describe('the record of a sheet', () => {
  const game = gameFile('slackwater.json');
  const head = { match: 'Q1', play: 1, team: '40117', scout: 's03' };
  it('holds what was written, and nothing of what was not', () => {
    const values = new Map<string, Value>([
      ['deck', 5],
      ['hold_missed', 2],
      ['cast_off', true],
      ['mooring', 'lifted'],
      ['minor', 1],
      ['start', 'left'],
      ['stopped', 0]
    ]);
    expect(bodyOf(game, head, values, false, ' slow ')).toEqual({
      match: 'Q1',
      team: '40117',
      scout: 's03',
      note: 'slow',
      counts: { deck: { made: 5 }, hold: { missed: 2 }, cast_off: { made: 1 } },
      choices: { mooring: { option: 'lifted' } },
      fouls: { minor: 1 },
      answers: { start: 'left', stopped: 0 }
    });
  });
  it('of a robot that did not show has no counts', () => {
    expect(bodyOf(game, { ...head, play: 2 }, new Map([['deck', 5]]), true, '')).toEqual({
      match: 'Q1',
      play: 2,
      team: '40117',
      scout: 's03',
      absent: true
    });
  });
});

it('a station stands for its team', () => {
  const match = { red: { teams: ['1', '2', '3'] }, blue: { teams: ['4', '5'] } };
  expect([stationTeam(match, 'r2'), stationTeam(match, 'B1'), stationTeam(match, 'b3')]).toEqual([
    '2',
    '4',
    undefined
  ]);
  expect(stationTeam(match, '40117')).toBeUndefined();
  expect(stationTeam(undefined, 'r1')).toBeUndefined();
});

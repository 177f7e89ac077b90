import type { Match } from '$lib/api';
import { expect, test } from 'vitest';
import type { Line } from './overview';
import {
  dayLayout,
  daysOf,
  placesOf,
  sizeFor,
  stripLayout,
  stripsOf,
  tableLayout,
  type Strip
} from './paper';

/** A match of two robots a side; seats as scout and team. */
const line = (match: string, start: string | undefined, seats: [string, string][]): Line => ({
  match: { match, play: 1, red: { teams: ['11', '12'] }, blue: { teams: ['21', '22'] } } as unknown as Match,
  start: start === undefined ? undefined : new Date(start),
  seats: seats.map(([scout, team]) => ({ seat: { match, scout, team }, stand: 'ahead' }))
});

const lines = [
  line('Q1', '2031-03-06T16:00Z', [['Avocet', '11']]),
  line('Q2', '2031-03-06T23:30Z', [
    ['Avocet', '22'],
    ['Bittern', '22']
  ]),
  line('Q3', undefined, [['Bittern', '12']]),
  line('Q4', '2031-03-07T09:00Z', [['Bittern', '21']])
];

test('a day ends where the event’s own calendar says so, and a match without a time goes with the one before', () => {
  const matches = (zone: string) => daysOf(lines, zone).map((d) => d.lines.map((l) => l.match.match));
  expect(matches('UTC')).toEqual([['Q1', 'Q2', 'Q3'], ['Q4']]);
  expect(matches('Europe/Berlin')).toEqual([['Q1'], ['Q2', 'Q3', 'Q4']]);
});

test('each robot stands at its station with all who watch it', () => {
  expect(placesOf(lines[1]!, 'blue')).toEqual([
    { team: '21', scouts: [] },
    { team: '22', scouts: ['Avocet', 'Bittern'] }
  ]);
});

test('a strip is a scout’s day with its rests', () => {
  const stops = stripsOf(lines).map((s) => [
    s.scout,
    ...s.stops.map((x) => ('rests' in x ? `rests ${x.rests}` : `${x.match} ${x.side} ${x.team}`))
  ]);
  expect(stops).toEqual([
    ['Avocet', 'Q1 red 11', 'Q2 blue 22', 'rests Q3–Q4'],
    ['Bittern', 'rests Q1', 'Q2 blue 22', 'Q3 red 12', 'Q4 blue 21']
  ]);
});

test('type gets smaller so that a day fits a sheet, and never too small to read', () => {
  expect(sizeFor(10)).toBe(11);
  const sixty = sizeFor(60);
  expect(sixty).toBeGreaterThanOrEqual(7);
  expect(60 * (1.2 * sixty + 2.2)).toBeLessThanOrEqual(660);
  expect(sizeFor(200)).toBe(sizeFor(300));
});

test('the table by match makes room for names, and for two at one robot', () => {
  const day = (scouts: string[], matches = 50) =>
    Array.from({ length: matches }, (_, i) =>
      line(
        `Q${i + 1}`,
        undefined,
        scouts.map((s) => [s, '11'])
      )
    );
  const usual = tableLayout(day(['s01']), 3);
  expect(usual.stacked).toBe(false);
  expect(tableLayout(day(['Sandpiper-two']), 3).size).toBeLessThan(usual.size);
  expect(tableLayout(day(['s01', 's02']), 3).size).toBeLessThan(usual.size);
  // On a short day a long name stands below its robot, so that the type can be larger.
  expect(tableLayout(day(['Sandpiper-two'], 12), 3)).toMatchObject({ stacked: true });
  expect(tableLayout(day(['s01'], 12), 3)).toEqual({ size: 11, stacked: false });
});

test('up to six strips stand side by side', () => {
  const strips = (n: number): Strip[] =>
    Array.from({ length: n }, (_, i) => ({ scout: `s${i}`, stops: [{ rests: 'Q1' }] }));
  expect(stripLayout(strips(4)).across).toBe(4);
  expect(stripLayout(strips(12)).across).toBe(6);
  expect(stripLayout(strips(6)).size).toBeLessThan(stripLayout(strips(4)).size);
});

test('both tables of a short day share a sheet in one type, of a long day each fills its own', () => {
  const day = (matches: number) =>
    Array.from({ length: matches }, (_, i) => line(`Q${i + 1}`, undefined, [['s01', '11']]));
  const short = dayLayout(day(20), 3);
  expect(short.table.size).toBe(short.cut.size);
  expect(short.table.size).toBeGreaterThanOrEqual(8);
  expect(short.table.size).toBeLessThan(11);
  // 21 lines of the table and 23 of the strip, each of type and air, on a sheet with two titles.
  expect(44 * (1.2 * short.table.size + 2.2)).toBeLessThanOrEqual(590);
  expect(dayLayout(day(28), 3).table.size).toBe(tableLayout(day(28), 3).size);
});

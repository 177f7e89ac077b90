import type { Observation } from '$lib/api';
import { describe, expect, it } from 'vitest';
import { game as plain, match, observation } from './fixture';
import { matchRows, type MatchRow, type Seen } from './profile';
import { evidence, matchPoints, pointsOf, seconds, summaryOf, timelineOf, tripGaps } from './seen';
import {
  defencePlayed,
  defenceSuffered,
  fouls,
  foulsText,
  fromRed,
  places,
  roleTimes,
  starts,
  stops,
  tallies
} from './story';
import { estimate } from './fixture';
import type { Game } from '$lib/game/types';

const game: Game = {
  ...plain,
  questions: [
    ...(plain.questions ?? []),
    { id: 'guard', name: 'Seconds defending', kind: 'number', when: 'match', role: 'defending_seconds' }
  ]
};
const seen = (body: Observation): Seen => ({
  id: body.match + body.scout,
  body,
  conflict: false,
  unsent: false
});
const schedule = ['Q1', 'Q2', 'Q3', 'Q4', 'Q5', 'Q6', 'Q7'].map((id) =>
  match(id, ['1', '2'], ['3', '4'], [20, 30])
);
const rowsOf = (...bodies: Observation[]): MatchRow[] => matchRows('1', schedule, bodies.map(seen));
const rowOf = (...bodies: Observation[]): MatchRow => rowsOf(...bodies).find((r) => r.match === 'Q1')!;
const all = {
  counts: {
    leave: { made: 1 },
    auto_crate: { made: 2, missed: 1 },
    crate: { made: 5, missed: 3 },
    scrap: { made: 1 }
  },
  choices: { dock: { option: 'high' } }
};

describe('points seen', () => {
  it('are makes times points, by period or in all', () => {
    const o = observation('Q1', '1', 's', all);
    // 3 + 2·6 + 5·4 − 1 + 10; leaves and crates of autonomous 3 + 12.
    expect(pointsOf(game, o)).toEqual({ points: 44, whole: true });
    expect(pointsOf(game, o, 'auto')).toEqual({ points: 15, whole: true });
  });

  it('are no whole when something that is worth points was not watched', () => {
    const o = observation('Q1', '1', 's', { counts: all.counts });
    expect(pointsOf(game, o)).toEqual({ points: 34, whole: false });
    expect(pointsOf(game, o, 'auto').whole).toBe(true);
  });

  it('are zero when it did not show, unknown when nobody watched, and the mean of two scouts', () => {
    expect(matchPoints(game, rowOf(observation('Q1', '1', 's', { absent: true })))).toEqual({
      points: 0,
      whole: true
    });
    expect(matchPoints(game, rowOf())).toBeUndefined();
    const other = { ...all, counts: { ...all.counts, crate: { made: 7, missed: 0 } } };
    const two = rowOf(observation('Q1', '1', 's', all), observation('Q1', '1', 't', other));
    expect(matchPoints(game, two)?.points).toBe(48);
  });

  it('join what was handed on, and leave a lost half out', () => {
    const a = observation('Q1', '1', 's', { ...all, to: 60_000, answers: { still: 5 } });
    const b = observation('Q1', '1', 't', {
      counts: { crate: { made: 2, missed: 1 }, leave: { made: 1 } },
      from: 61_000,
      answers: { still: 7 }
    });
    const [whole] = evidence(game, rowOf(a, b));
    expect(whole?.counts?.crate).toEqual({ made: 7, missed: 4 });
    expect(whole?.counts?.leave?.made).toBe(1);
    expect(whole?.answers?.still).toBe(12);
    expect(evidence(game, rowOf(a))).toEqual([]);
    expect(evidence(game, rowOf(a, { ...b, from: 100_000 }))).toEqual([]);
  });

  it('of a match that was played again count the last play', () => {
    const again = observation('Q1', '1', 's', {
      ...all,
      play: 2,
      counts: { ...all.counts, crate: { made: 0, missed: 0 } }
    });
    expect(matchPoints(game, rowOf(observation('Q1', '1', 's', all), again))?.points).toBe(24);
  });
});

describe('the time line', () => {
  const taps: Observation['taps'] = [
    [3000, 'auto_crate', 1],
    [9000, 'auto_crate', 1],
    [20_000, 'crate', 1, 4, 2],
    [21_500, 'crate', 1],
    [23_000, 'crate_missed', 1, 5, 1],
    [23_400, 'crate', 1],
    [35_000, 'crate', 1],
    [36_000, 'crate', -1],
    [50_000, 'still', 1],
    [60_000, 'still', -1],
    [70_000, 'crate', 1],
    [80_000, 'guard', 1],
    [85_000, 'guard', -1],
    [90_000, 'crate', 1]
  ];
  const record = observation('Q1', '1', 's', { taps, answers: { still: 10, guard: 5 } });

  it('forgets what was taken back and pairs beginnings with ends', () => {
    const t = timelineOf(game, rowOf(record))!;
    expect(t.moments.map((m) => m.ms)).not.toContain(35_000);
    expect(t.spans).toEqual([
      { role: 'stopped_seconds', from: 50_000, to: 60_000 },
      { role: 'defending_seconds', from: 80_000, to: 85_000 }
    ]);
  });

  it('ends with the match what nobody ended', () => {
    const t = timelineOf(game, rowOf({ ...record, taps: [[50_000, 'still', 1]] }));
    expect(t?.spans).toEqual([{ role: 'stopped_seconds', from: 50_000, to: 135_000 }]);
  });

  it('has trips: scores within 2 s are one, stopped and defending time is taken off', () => {
    // Autonomous 6; not across the periods; 20 to 23.4 s is one trip; 70 − 20 less 10 stopped; 90 − 70 less 5.
    expect(tripGaps(game, timelineOf(game, rowOf(record))!)).toEqual([6, 40, 15]);
  });

  it('has no trips where it stopped and nobody marked when, nor a gap out of sight', () => {
    const undated = { ...record, taps: taps.filter((t) => t[1] !== 'still') };
    expect(tripGaps(game, timelineOf(game, rowOf(undated))!)).toEqual([]);
    const lost = {
      ...record,
      taps: [...taps, [40_000, 'lost', 1], [41_000, 'lost', -1]] as Observation['taps']
    };
    expect(tripGaps(game, timelineOf(game, rowOf(lost))!)).toEqual([6, 15]);
  });

  it('has places, blue’s turned to red’s side', () => {
    const field = { length_m: 16, width_m: 8, turn: 'rotate' };
    const t = timelineOf(game, rowOf(record))!;
    expect(places(game, field, [t]).map((p) => [p.x, p.y, p.made, p.label])).toEqual([
      [4, 2, true, 'Crate, Driver-controlled'],
      [5, 1, false, 'Crate, Driver-controlled']
    ]);
    expect(fromRed(field, 'blue', [4, 2])).toEqual([12, 6]);
    expect(fromRed({ ...field, turn: 'mirror' }, 'blue', [4, 2])).toEqual([12, 2]);
  });
});

describe('the story', () => {
  it('has starts with what it did from there', () => {
    const from = (m: string, start: string, made: number) =>
      observation(m, '1', 's', {
        answers: { start },
        counts: { leave: { made: 1 }, auto_crate: { made, missed: 1 } }
      });
    const found = starts(game, rowsOf(from('Q1', 'left', 1), from('Q2', 'left', 2), from('Q3', 'right', 0)));
    expect(found.map((s) => [s.place, s.routine, s.matches, s.points?.value, s.scored?.value])).toEqual([
      ['left', 'Leaves, Crate', ['Q1', 'Q2'], 12, 1],
      ['right', 'Leaves, Crate', ['Q3'], 3, 1]
    ]);
  });

  it('has stops with their time, and matches it missed', () => {
    const rows = rowsOf(
      observation('Q1', '1', 's', {
        answers: { still: 34 },
        taps: [
          [45_000, 'still', 1],
          [79_000, 'still', -1]
        ]
      }),
      observation('Q2', '1', 's', { answers: { still: 20 } }),
      observation('Q3', '1', 's', { answers: { still: 0 } }),
      observation('Q4', '1', 's', { absent: true })
    );
    expect(stops(game, rows)).toEqual([
      { match: 'Q1', seconds: 34, when: '0:45 to 1:19' },
      { match: 'Q2', seconds: 20, when: undefined },
      { match: 'Q4' }
    ]);
    expect(seconds(game, rows[2]!, 'stopped_seconds')).toBe(0);
  });

  it('has seconds by role; the rest of the match is scoring', () => {
    const rows = rowsOf(
      observation('Q1', '1', 's', { answers: { still: 10, guard: 20 } }),
      observation('Q2', '1', 's', { answers: { still: 0, guard: 40 } })
    );
    expect(roleTimes(game, rows).map((r) => [r.name, r.seconds])).toEqual([
      ['Stopped', 5],
      ['Defending', 30],
      ['Scoring and driving', 100]
    ]);
    expect(roleTimes(game, rowsOf())).toEqual([]);
  });

  it('says of defence what can be said', () => {
    const guards = (m: string, s: number) => observation(m, '1', 's', { answers: { guard: s } });
    const usual = new Map([estimate('3', 20, 2), estimate('4', 15, 2)].map((e) => [e.team, e])); // 19 + 14
    expect(defencePlayed(plain, rowsOf(), usual, 2)).toMatch(/^Not recorded/);
    expect(defencePlayed(game, rowsOf(guards('Q1', 4)), usual, 2)).toBe('None seen in 1 watched match.');
    expect(defencePlayed(game, rowsOf(guards('Q1', 30), guards('Q2', 12)), usual, 2)).toBe(
      'It defended for 10 s or more in 2 of 2 watched matches, 42 s in all. What that does to opponents: too little data.'
    );
    const four = rowsOf(...['Q1', 'Q2', 'Q3', 'Q4'].map((m) => guards(m, 30)));
    expect(defencePlayed(game, four, usual, 2)).toContain('scored −5.0 points'); // 30 − 35
  });

  it('says how it scores under defence once there is enough of both', () => {
    const mine = ['Q1', 'Q2', 'Q3', 'Q4', 'Q5', 'Q6', 'Q7'].map((m, i) =>
      observation(m, '1', 's', {
        ...all,
        counts: { ...all.counts, crate: { made: i < 3 ? 2 : 5, missed: 0 } }
      })
    );
    const theirs = schedule.map((m, i) =>
      observation(m.match, '3', 't', { answers: { guard: i < 3 ? 30 : 0 } })
    );
    const byTeam = (n: number) => new Map([['3', matchRows('3', schedule, theirs.slice(0, n).map(seen))]]);
    expect(defenceSuffered(game, rowsOf(...mine), byTeam(7))).toMatch(
      /3 of 7 matches .* It then scored −12\.0 points \(80 % interval −12\.0 to −12\.0\)/
    );
    expect(defenceSuffered(game, rowsOf(...mine), byTeam(5))).toMatch(
      /How it scores then: too little data\.$/
    );
  });

  it('counts fouls and misses only where they were watched', () => {
    const rows = rowsOf(
      observation('Q1', '1', 's', { ...all, fouls: { minor: 2 } }),
      observation('Q2', '1', 's', { counts: { crate: { made: 9 } } })
    );
    expect(foulsText(fouls(game, rows))).toBe('Minor foul 2, in 1 watched match.');
    expect(tallies(game, rows).map((t) => [t.label, t.made, t.missed, t.matches])).toEqual([
      ['Crate, Autonomous', 2, 1, 1],
      ['Crate, Driver-controlled', 5, 3, 1]
    ]);
  });

  it('sums a robot up for the table', () => {
    const bodies = [3, 5, 4, 8, 9].map((made, i) =>
      observation(`Q${i + 1}`, '1', 's', {
        ...all,
        counts: { ...all.counts, crate: { made, missed: 0 } },
        fouls: { minor: 1 },
        answers: { start: 'left' }
      })
    );
    const s = summaryOf(game, rowsOf(...bodies, observation('Q6', '1', 's', { absent: true })));
    expect(s.points.map((p) => p.value)).toEqual([36, 44, 40, 56, 60]);
    expect(s.trend?.value).toBe(6);
    expect(s.fouls).toBe(4);
    expect(s.starts.get('left')).toBe(5);
  });
});

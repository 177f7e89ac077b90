// A small invented game and event for the tests of this folder.

import type { Match, Observation, TeamEstimate } from '$lib/api';
import type { Game } from '$lib/game/types';

export const game: Game = {
  id: 'harbour',
  name: 'Harbour',
  version: 1,
  alliance: { robots: 2 },
  periods: [
    { id: 'auto', name: 'Autonomous', seconds: 15 },
    { id: 'driver', name: 'Driver-controlled', seconds: 120 }
  ],
  actions: [
    { id: 'leave', period: 'auto', name: 'Leaves', kind: 'flag', points: 3 },
    { id: 'auto_crate', period: 'auto', name: 'Crate', kind: 'count', points: 6, misses: true },
    { id: 'crate', period: 'driver', name: 'Crate', kind: 'count', points: 4, misses: true },
    { id: 'scrap', period: 'driver', name: 'Scrap', kind: 'count', points: -1 },
    {
      id: 'dock',
      period: 'driver',
      name: 'Docking',
      kind: 'choice',
      options: [
        { id: 'none', name: 'None' },
        { id: 'low', name: 'Low', points: 2 },
        { id: 'high', name: 'High', points: 10 }
      ]
    },
    { id: 'horn', name: 'Horn', kind: 'flag', by: 'alliance' }
  ],
  fouls: [{ id: 'minor', name: 'Minor foul', opponent_points: 4 }],
  components: [
    { id: 'autonomous', sum: ['leave', 'auto_crate'] },
    { id: 'docking', sum: ['dock'] },
    { id: 'crates', count: ['auto_crate', 'crate'] }
  ],
  selection: { alliances: 2, picks: 1, order: 'serpentine' },
  questions: [
    {
      id: 'start',
      name: 'Start position',
      kind: 'choice',
      options: ['left', 'right'],
      when: 'match',
      role: 'start_position'
    },
    { id: 'still', name: 'Seconds stopped', kind: 'number', when: 'match', role: 'stopped_seconds' },
    { id: 'lost', name: 'Lost sight', kind: 'flag', when: 'match', role: 'lost_sight' },
    { id: 'mass', name: 'Mass', kind: 'number', when: 'pit' }
  ]
};

export function estimate(team: string, now: number, sd = 2, more: Partial<TeamEstimate> = {}): TeamEstimate {
  return {
    team,
    matches: 6,
    watched: 5,
    points: now - 1,
    sd,
    now,
    now_sd: sd,
    working: now + 2,
    stops: 0,
    actions: {},
    least_squares: { offence: null, defence: null, margin: null },
    ...more
  };
}

export function match(id: string, red: string[], blue: string[], scores?: [number, number]): Match {
  return {
    match: id,
    play: 1,
    starts_at: '2031-03-06T14:00:00Z',
    red: { teams: red, result: scores && { score: scores[0] } },
    blue: { teams: blue, result: scores && { score: scores[1] } }
  };
}

export function observation(
  id: string,
  team: string,
  scout: string,
  more: Partial<Observation> = {}
): Observation {
  return { match: id, team, scout, ...more };
}

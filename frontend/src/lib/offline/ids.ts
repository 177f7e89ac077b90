/**
 * Ids that every device forms alike, so that one identity is one record
 * (RFC 9562: UUIDv5 for what has a name, UUIDv7 for what is new). The formulas
 * are those of stats/record/id.go.
 */
import { v5, v7 } from 'uuid';

export const newId = (): string => v7();

export const observationId = (
  event: string,
  match: string,
  play: number,
  team: string,
  scout: string
): string => v5(`observation/${match}/${Math.max(play, 1)}/${team}/${scout}`, event);

export const resultId = (event: string, match: string, play: number, alliance: 'red' | 'blue'): string =>
  v5(`result/${match}/${Math.max(play, 1)}/${alliance}`, event);

export const judgementId = (
  event: string,
  match: string,
  play: number,
  question: string,
  scout: string
): string => v5(`judgement/${match}/${Math.max(play, 1)}/${question}/${scout}`, event);

/** What is said after a match, about it or about one robot. */
export const debriefId = (event: string, match: string, play: number, team = ''): string =>
  v5(`debrief/${match}/${Math.max(play, 1)}${team && `/${team}`}`, event);

/** Where a robot stands on a drawing. */
export const sketchId = (event: string, match: string, second: number, team: string): string =>
  v5(`sketch/${match}/${second}/${team}`, event);

export const pitId = (event: string, team: string, scout: string): string =>
  v5(`pit/${team}/${scout}`, event);

export const rotaId = (event: string): string => v5('rota', event);

export const seatId = (event: string, match: string, scout: string): string =>
  v5(`seat/${match}/${scout}`, event);

/** What was heard of a captain and a team. */
export const pinId = (event: string, captain: string, team: string): string =>
  v5(`pin/${captain}/${team}`, event);

/** What happened around a playoff match beside its result. */
export const playoffId = (event: string, match: string): string => v5(`playoff/${match}`, event);

export const entryId = (list: string, team: string): string => v5(team, list);

/** A season's game, as game.json has it. No code knows an id of a game. */
export interface Game {
  id: string;
  name: string;
  version: number;
  alliance: { robots: number };
  values?: Record<string, number>;
  periods: Period[];
  actions: Action[];
  limits?: { count: string[]; max: number; per: 'alliance' | 'match' }[];
  bonuses?: Bonus[];
  fouls?: Foul[];
  components?: Component[];
  ranking_points?: RankingPoint[];
  ranking_order?: string[];
  selection?: { alliances: number; picks: number; order: string; backups?: number; seconds?: number };
  playoff?: { format: string; final_wins?: number; tie_order?: string[]; then?: string };
  questions?: Question[];
  field?: Field;
  phrases?: string[];
  seats?: number;
}

/** A part of the match; `within` names the period it is the last part of. */
export interface Period {
  id: string;
  name: string;
  seconds: number;
  pause_after?: number;
  within?: string;
}

export type ActionKind = 'count' | 'flag' | 'choice' | 'volume';

/** One thing that a robot, or an alliance (`by`), can do. */
export interface Action {
  id: string;
  period?: string;
  name?: string;
  kind: ActionKind;
  points?: number;
  misses?: boolean;
  alliance_max?: number;
  options?: Option[];
  tried?: boolean;
  steps?: number[];
  by?: string;
  helps?: string;
}

export interface Option {
  id: string;
  name?: string;
  points?: number;
  alliance_max?: number;
}

export interface Foul {
  id: string;
  name?: string;
  opponent_points?: number;
  /** The ranking point that the opponent gets for it. */
  opponent_gains?: string;
}

/** What has to hold for a ranking point or a bonus; conditions nest at most two deep. */
export type Test =
  | 'win'
  | 'tie'
  | { component: string; at_least: number | string }
  | { component: string; more_than: 'opponent' }
  | { both: string }
  | { any: Test[] }
  | { all: Test[] };

export interface RankingPoint {
  id: string;
  name?: string;
  points: number;
  when: Test;
}

export interface Bonus {
  id: string;
  name?: string;
  points: number;
  for_each?: { count: string[]; step: number };
  when?: Test;
}

/** A figure that the venue publishes: the points (`sum`) or units (`count`) of some actions. */
export interface Component {
  id: string;
  name?: string;
  sum?: string[];
  count?: string[];
}

export type QuestionKind = 'number' | 'flag' | 'choice' | 'text' | 'best_worst';

/** Something that is asked rather than counted. */
export interface Question {
  id: string;
  name?: string;
  kind: QuestionKind;
  options?: string[];
  min?: number;
  max?: number;
  when: 'match' | 'pit' | 'judgement';
  role?: string;
  action?: string;
}

/** The drawing of the playing field, in metres. */
export interface Field {
  length_m: number;
  width_m: number;
  turn?: string;
  shapes?: Shape[];
  places?: { id: string; x: number; y: number }[];
}

export interface Shape {
  kind: 'rect' | 'circle' | 'line';
  x: number;
  y: number;
  w?: number;
  h?: number;
  r?: number;
  x2?: number;
  y2?: number;
  name?: string;
}

/** The name that is shown: the given one, else the id in words. */
export function nameOf(thing: { id: string; name?: string }): string {
  return thing.name || sentence(thing.id);
}

/** `start_left` → `Start left`. */
export function sentence(id: string): string {
  const words = id.replaceAll('_', ' ');
  return words.charAt(0).toUpperCase() + words.slice(1);
}

// Match ids: a stage letter and a number, "Q31". The order of the stages is the
// order in which they are played.

export type Stage = 'W' | 'Q' | 'P' | 'F';

export interface MatchId {
  stage: Stage;
  number: number;
}

export const stages: readonly Stage[] = ['W', 'Q', 'P', 'F'];

const stageNames: Record<Stage, string> = {
  W: 'Practice',
  Q: 'Qualification',
  P: 'Playoffs',
  F: 'Final'
};

const matchNames: Record<Stage, string> = {
  W: 'Practice match',
  Q: 'Qualification match',
  P: 'Playoff match',
  F: 'Final match'
};

const form = /^([WQPF])([1-9][0-9]{0,3})$/;

/** Reads "Q31"; undefined when the text is not a match. */
export function parseMatch(text: string): MatchId | undefined {
  const found = form.exec(text);
  if (!found) return undefined;
  return { stage: found[1] as Stage, number: Number(found[2]) };
}

/** Orders match ids as they are played. What is no match id comes last, by text. */
export function compareMatches(a: string, b: string): number {
  const x = parseMatch(a);
  const y = parseMatch(b);
  if (!x || !y) return x ? -1 : y ? 1 : a < b ? -1 : a > b ? 1 : 0;
  return stages.indexOf(x.stage) - stages.indexOf(y.stage) || x.number - y.number;
}

/** "Qualification match 31" for Q31. */
export function matchName(id: string): string {
  const match = parseMatch(id);
  return match ? `${matchNames[match.stage]} ${match.number}` : id;
}

/** "Qualification" for Q. */
export function stageName(stage: Stage): string {
  return stageNames[stage];
}

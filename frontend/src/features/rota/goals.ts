/** What a plan goes for, how much each counts, and what came of it. */
import type { RotaBody, RotaGoals, RotaLoss, RotaPlan } from '$lib/api';
import { counted, fixed, percent } from '$lib/figures';

export type Goal = keyof RotaLoss;

/** In the order in which they are shown; the words are for a lead. */
export const goals: readonly { id: Goal; name: string; why: string }[] = [
  {
    id: 'brief',
    name: 'Robots in our next matches',
    why: 'known as well as can be when our match with them comes'
  },
  { id: 'list', name: 'Robots for the pick list', why: 'known at the end, the better ones most' },
  { id: 'detail', name: 'Robots hardly watched', why: 'official results do not tell how a robot scores' },
  { id: 'asked', name: 'Open questions', why: 'asked of scouts; answered early' },
  { id: 'spread', name: 'Scouts change robots', why: 'so that one scout’s habits do not stick to one robot' },
  { id: 'twice', name: 'Two scouts on one robot', why: 'so that what they count can be compared' }
];

/** How much a goal counts now: what was set, else the usual. */
export const weightOf = (
  rota: RotaBody,
  goal: Goal,
  usual: RotaGoals['weights'] | undefined
): number | undefined => rota.weights?.[goal] ?? usual?.[goal];

/** The weights with one of them set; undefined, or the usual, leaves it out. None left: undefined. */
export function withWeight(
  weights: RotaBody['weights'],
  goal: Goal,
  value: number | undefined,
  usual: RotaGoals['weights'] | undefined
): RotaBody['weights'] {
  const out = { ...weights };
  if (value === undefined || value === usual?.[goal]) delete out[goal];
  else out[goal] = value;
  return Object.keys(out).length > 0 ? out : undefined;
}

/** What is wrong with a weight that was typed; empty: nothing. */
export const wrongWeight = (goal: Goal, value: number, most: number): string =>
  value >= 0 && value <= most
    ? ''
    : `${goals.find((g) => g.id === goal)?.name}: write a number from 0 to ${most}.`;

export interface Achieved {
  id: Goal;
  name: string;
  /** With official results alone, with the plan, and what that is in words. */
  before: string;
  after: string;
  change: string;
}

/** What a plan brings, goal by goal, against nobody watching. */
export const achieved = (plan: Pick<RotaPlan, 'loss' | 'nobody' | 'weights'>): Achieved[] =>
  goals.map(({ id, name }) => {
    const weight = plan.weights[id];
    const line = { id, name, before: '–', after: '–' };
    if (weight === 0) return { ...line, change: 'left out' };
    const before = plan.nobody[id] / weight;
    const after = plan.loss[id] / weight;
    if (id === 'spread' || id === 'twice') {
      const pairs = Math.round(before - after);
      const what =
        id === 'spread' ? ['first meeting', 'first meetings'] : ['pair of scouts', 'pairs of scouts'];
      return { ...line, before: '0', after: String(pairs), change: counted(pairs, what[0] ?? '', what[1]) };
    }
    if (before <= 0) return { ...line, change: id === 'asked' ? 'no question is open' : 'nothing to gain' };
    return {
      ...line,
      before: fixed(before),
      after: fixed(after),
      change: after < before ? `${percent(1 - after / before)} less` : 'no change'
    };
  });

// Chances in words. The words follow the likelihood scale of Mastrandrea et al.
// (2010), Guidance Note for Lead Authors of the IPCC Fifth Assessment Report on
// Consistent Treatment of Uncertainties, table 1 (cited from memory): a chance
// above 99 % is "virtually certain", above 90 % "very likely", above 66 %
// "likely"; between 33 % and 66 % either may happen. Words never stand without
// their number.

import { percent } from './number';

export interface Chance {
  red: number;
  blue: number;
  tie: number;
}

type Colour = 'red' | 'blue';

export const colourName: Record<Colour, string> = { red: 'Red', blue: 'Blue' };

export function likelihood(p: number): string {
  if (p > 0.99) return 'virtually certain';
  if (p > 0.9) return 'very likely';
  if (p > 0.66) return 'likely';
  if (p >= 0.33) return 'about as likely as not';
  if (p >= 0.1) return 'unlikely';
  if (p >= 0.01) return 'very unlikely';
  return 'exceptionally unlikely';
}

/** "Red is likely to win: 72 %." or "Either may win: red 55 %, blue 44 %." */
export function chanceSentence(c: Chance): string {
  const colour: Colour = c.red >= c.blue ? 'red' : 'blue';
  const p = c[colour];
  if (p <= 0.66) return `Either may win: red ${percent(c.red)}, blue ${percent(c.blue)}.`;
  const word = likelihood(p);

  return `${colourName[colour]} is ${word} to win: ${percent(p)}.`;
}

/** The same seen from one side: "We are likely to win: 72 %." */
export function ourChanceSentence(c: Chance, ours: Colour): string {
  const p = c[ours];
  const theirs = c[ours === 'red' ? 'blue' : 'red'];
  if (p > 0.66) return `We are ${likelihood(p)} to win: ${percent(p)}.`;
  if (theirs > 0.66) return `We are ${likelihood(p)} to win: ${percent(p)}.`;
  return `It is open: ${percent(p)} for us, ${percent(theirs)} for them.`;
}

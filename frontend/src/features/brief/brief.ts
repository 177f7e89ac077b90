// A brief in words. Every number is one of the API's answer.

import type {
  Brief,
  BriefClash,
  BriefDeed,
  BriefJob,
  BriefQuery,
  BriefReach,
  BriefRobot,
  BriefTarget,
  Colour
} from '$lib/api';
import { fixed, listed, ourChanceSentence, percent, signed } from '$lib/figures';
import { distinctName } from '$lib/game/names';
import { nameOf, sentence, type Game } from '$lib/game/types';

export const sidesOf = (b: Pick<Brief, 'ours'>): { ours: Colour; theirs: Colour } =>
  b.ours === 'blue' ? { ours: 'blue', theirs: 'red' } : { ours: 'red', theirs: 'blue' };

/** What kind of record this brief is kept as; the usual one is the same as the one fetched ahead. */
export function keptName(match: string, query: BriefQuery): `brief/${string}` {
  const given = Object.entries(query).filter(([, v]) => v !== undefined);
  return `brief/${[match, ...given.map(([k, v]) => `${k}=${v}`)].join('&')}`;
}

/** The first line: what to expect as everybody plays now. */
export const firstLine = (b: Brief): string => ourChanceSentence(b.now.forecast.chance, sidesOf(b).ours);

/** "88 to 71": points expected, ours first. */
export function scores(b: Brief): string {
  const { ours, theirs } = sidesOf(b);
  return `${fixed(b.now.forecast[ours].mean, 0)} to ${fixed(b.now.forecast[theirs].mean, 0)}`;
}

export const hasJob = (j: BriefJob): boolean => Boolean(j.against ?? j.to);

export function jobWords(j: BriefJob): string {
  if (j.against) return `defends against ${j.against}`;
  if (j.to) return `feeds ${j.to}`;
  return 'plays its own game';
}

/** "Chance to win 41 % → 48 %, ranking points +0.12." */
export function planGain(b: Brief): string {
  const { ours } = sidesOf(b);
  const win = `Chance to win ${percent(b.now.forecast.chance[ours])} → ${percent(b.planned.forecast.chance[ours])}`;
  return b.goal === 'win' ? `${win}.` : `${win}, ranking points ${signed(b.plan.ranking_points.gain, 2)}.`;
}

/** Whatever is said of jobs is said under this. */
export function assumption(b: Pick<Brief, 'assume' | 'plan'>, feeds: boolean): string {
  const { loss, gain, keeps } = b.assume;
  return (
    `Assumed, not measured: a robot that is defended against makes ${percent(loss)} fewer points` +
    (feeds ? `, one that is fed ${percent(gain)} more` : '') +
    `, and who ${feeds ? 'does either' : 'defends'} keeps ${percent(keeps)} of its own.`
  );
}

/** "40131, by 40123: chance to win +7 in a hundred". A gain within its error is told as none. */
export function targetWords(t: BriefTarget, goal: string): string {
  const g = goal === 'win' ? t.win : t.ranking_points;
  if (Math.abs(g.gain) <= 2 * g.se) return 'no sure gain';
  return goal === 'win'
    ? `${signed(g.gain * 100, 0)} in a hundred to win`
    : `${signed(g.gain, 2)} ranking points`;
}

/** "Barrel on deck", "Lifted". */
export function deedName(game: Game | undefined, d: { action: string; option?: string }): string {
  const action = game?.actions.find((a) => a.id === d.action);
  if (!game || !action) return sentence(d.option ?? d.action);
  const option = action.options?.find((o) => o.id === d.option);
  if (option) return nameOf(option);
  return distinctName(game, action).name;
}

/** "4.8", "62 %": units in a match, or in how many matches. */
export function deedNumber(game: Game | undefined, d: BriefDeed): string {
  const kind = game?.actions.find((a) => a.id === d.action)?.kind;
  return d.option || kind === 'flag' ? percent(d.mean) : fixed(d.mean);
}

export function deedWords(game: Game | undefined, d: BriefDeed): string {
  const hit = d.accuracy ? ` (${percent(d.accuracy.share)} hit)` : '';
  return `${deedName(game, d)} ${deedNumber(game, d)}${hit}`;
}

const place = (id: string): string => sentence(id).toLowerCase();

/** "starts left (75 %), middle (25 %)"; '' if nobody saw. */
export const startWords = (r: Pick<BriefRobot, 'starts'>): string =>
  r.starts
    .slice(0, 2)
    .map((s, i) => `${i === 0 ? 'starts ' : ''}${place(s.place)} (${percent(s.share)})`)
    .join(', ');

/** What it does in the first period. A deed that hardly ever happens is left out. */
export function autonomousWords(game: Game | undefined, r: BriefRobot): string {
  const deeds = r.autonomous.filter((d) => d.mean >= 0.1).map((d) => deedWords(game, d));
  return [startWords(r), ...deeds].filter((s) => s !== '').join(', ') || 'not seen';
}

export const bestWords = (game: Game | undefined, r: BriefRobot): string =>
  r.best.map((d) => deedWords(game, d)).join(', ') || 'not seen';

export const stopWords = (r: BriefRobot): string =>
  r.watched === 0 ? 'never watched' : `${percent(r.stops)} of its matches`;

export function defenceWords(r: BriefRobot): string {
  const d = r.defence;
  if (!d) return 'nobody watched for it';
  if (d.matches === 0) return `never seen in ${d.seen}`;
  return `in ${d.matches} of ${d.seen}, ${fixed(d.seconds, 0)} s`;
}

export function clashWords(game: Game | undefined, c: BriefClash): string {
  if (c.kind === 'start') {
    const free = c.free?.length ? ` Free: ${listed(c.free.map(place))}.` : '';
    return `${listed(c.teams)} both start ${place(c.place ?? '')} (${percent(c.chance)} likely).${free}`;
  }
  const names = (c.actions ?? []).map((action) =>
    deedName(game, { action, ...(c.option && { option: c.option }) })
  );
  return `${listed(names)}: ${listed(c.teams)} together come to ${fixed(c.expected)}, ${fixed(c.max, 0)} count.`;
}

/** "Full load: 62 % now, 70 % with the plan." */
export function reachWords(game: Game | undefined, r: BriefReach): string {
  const rp = game?.ranking_points?.find((p) => p.id === r.id);
  const name = rp ? nameOf(rp) : sentence(r.id);
  if (r.chance === undefined) return `${name}: too little was seen to tell.`;
  const planned =
    r.planned !== undefined && percent(r.planned) !== percent(r.chance)
      ? `, ${percent(r.planned)} with the plan`
      : '';
  return `${name}: ${percent(r.chance)}${planned}.`;
}

/** "Needs barrels at least 20, expected 18.4; or …". */
export function needWords(game: Game | undefined, r: BriefReach): string {
  const component = (id: string) => {
    const found = game?.components?.find((c) => c.id === id);
    return found ? nameOf(found) : sentence(id);
  };
  const one = (n: BriefReach['needs'][number]): string => {
    if (n.both) return `${deedName(game, { action: n.both })} by both alliances`;
    const name = component(n.component ?? '').toLowerCase();
    const have = n.expected === undefined ? '' : ` (${fixed(n.expected)} expected)`;
    if (n.more)
      return `more ${name} than they${n.theirs === undefined || n.expected === undefined ? '' : ` (${fixed(n.expected)} to ${fixed(n.theirs)} expected)`}`;
    return `${name} ${fixed(n.at_least, 0)} or more${have}`;
  };
  const groups = new Map<number, string[]>();
  for (const n of r.needs) groups.set(n.group, [...(groups.get(n.group) ?? []), one(n)]);
  if (groups.size === 0) return '';
  return `Needs ${[...groups.values()].map((g) => listed(g)).join('; or ')}.`;
}

/** What there is to agree on, ready to be written down: who does it, and what. */
export function toAgree(game: Game | undefined, b: Brief): { team: string; text: string }[] {
  const out: { team: string; text: string }[] = [];
  for (const j of b.plan.jobs) if (hasJob(j)) out.push({ team: j.team, text: sentence(jobWords(j)) });
  // Of two that start at one place the second in the list gives way, to say anything at all; each robot
  // and each free place once, however many it collides with.
  const moved = new Set<string>();
  const taken = new Set<string>();
  for (const c of b.clashes) {
    const team = c.teams.at(-1) ?? '';
    const other = c.free?.find((f) => !taken.has(f));
    if (c.kind !== 'start' || !other || moved.has(team)) continue;
    moved.add(team);
    taken.add(other);
    out.push({ team, text: `Starts ${place(other)}` });
  }
  return out;
}

/** What an address says of who plays and whose side to take. */
export function queryOf(params: URLSearchParams): BriefQuery {
  const text = (name: string) => params.get(name) || undefined;
  const ours = text('ours');
  const goal = text('goal');
  return {
    red: text('red'),
    blue: text('blue'),
    squad: text('squad'),
    ours: ours === 'red' || ours === 'blue' ? ours : undefined,
    goal: goal === 'win' || goal === 'ranking_points' ? goal : undefined
  };
}

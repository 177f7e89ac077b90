/** Questions that the lead asks of those who watch, and what they answered. */
import { compareTeams } from '$lib/figures';
import type { EventState } from './event.svelte';

export interface Asked {
  id: string;
  text: string;
  team?: string | undefined;
  match?: string | undefined;
  owner?: string | undefined;
  /** The one record that its scout is asked about. */
  record?: string | undefined;
  /** Shows on scouts' tablets. */
  ofScouts: boolean;
  done: boolean;
}

export interface Answered {
  match: string;
  scout: string;
  text: string;
  record: string;
  at: string;
}

const asked = (r: ReturnType<EventState['records']>[number]): Asked => {
  const b = r.body as {
    text?: string;
    team?: string;
    match?: string;
    owner?: string;
    record?: string;
    asked_of?: string;
    done?: boolean;
  };
  return {
    id: r.record_id,
    text: b.text ?? '',
    team: b.team,
    match: b.match,
    owner: b.owner,
    record: b.record,
    ofScouts: b.asked_of === 'scouts',
    done: b.done ?? false
  };
};

/** All questions about a robot; open ones first. */
export const questionsAbout = (event: EventState, team: string): Asked[] =>
  event
    .records('question')
    .map(asked)
    .filter((q) => q.team === team)
    .sort((a, b) => Number(a.done) - Number(b.done) || (a.id < b.id ? -1 : 1));

/** All open questions, about any robot, in order of team. */
export const openQuestions = (event: EventState): Asked[] =>
  event
    .records('question')
    .map(asked)
    .filter((q) => !q.done)
    .sort((a, b) => compareTeams(a.team ?? '', b.team ?? '') || (a.id < b.id ? -1 : 1));

/** Open questions for whoever watches this robot in this match. */
export const openFor = (event: EventState, match: string, team: string): Asked[] =>
  event
    .records('question')
    .map(asked)
    .filter(
      (q) =>
        q.ofScouts && !q.done && !q.record && (!q.team || q.team === team) && (!q.match || q.match === match)
    );

/** Open questions to the scout of one record, about it; newest first. */
export const openAbout = (event: EventState, record: string): Asked[] =>
  event
    .records('question')
    .map(asked)
    .filter((q) => q.record === record && !q.done)
    .sort((a, b) => (a.id < b.id ? 1 : -1));

/** What scouts answered to a question, newest first. */
export const answersTo = (event: EventState, question: string): Answered[] =>
  event
    .records('observation')
    .flatMap((r) => {
      const text = r.body.answers_to?.[question];
      const made = r.revisions.find((v) => v.revision_id === r.head)?.made_at ?? '';
      return text && !r.body.discarded
        ? [{ match: r.body.match, scout: r.body.scout, text, record: r.record_id, at: made }]
        : [];
    })
    .sort((a, b) => (a.at < b.at ? 1 : -1));

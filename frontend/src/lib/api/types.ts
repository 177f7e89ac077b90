/** What the API speaks: names for the types that are generated from its description. */
import type { components } from './schema';

type Schemas = components['schemas'];

export type Session = Schemas['Session'];
export type EventSummary = Schemas['Event'];
export type EventOfMember = Schemas['EventOfMember'];
export type Role = EventSummary['role'];
export type Colour = 'red' | 'blue';

export type Team = Schemas['Team'];
export type Match = Schemas['Match'];
export type Alliance = Schemas['Alliance'];
export type Result = Schemas['Result'];

/** [ms since the match started, action id or ID_missed, step, x?, y?]. */
export type Tap = [number, string, number] | [number, string, number, number, number];
export type Tally = Schemas['Tally'];
export type Observation = Omit<Schemas['Observation'], 'taps'> & { taps?: Tap[] };
export type ResultBody = Omit<Schemas['ResultBody'], 'alliance'> & { alliance: Colour };
export type ListBody = Schemas['ListBody'];
export type EntryBody = Schemas['EntryBody'];
export type NoteBody = Schemas['NoteBody'];
export type MarkBody = Schemas['Mark'];
export type QuestionBody = Schemas['QuestionBody'];
export type TrainingBody = Schemas['Training'];
export type JudgementBody = Schemas['Judgement'];
export type AgreementBody = Schemas['AgreementBody'];
export type DebriefBody = Schemas['DebriefBody'];
/** Metres along the field and across it, as in the game file. */
export type Point = [number, number];
/** One mark on the drawing of the field. */
export type SketchBody = Omit<Schemas['SketchBody'], 'place' | 'ink'> & { place?: Point; ink?: Point[] };
/** One move of the alliance selection. */
export type SelectionBody = Schemas['SelectionBody'];
/** Who watches when, as the lead set it; the plan is in records of kind seat. */
export type RotaBody = Schemas['RotaBody'];
export type SeatBody = Schemas['SeatBody'];
/** What one visitor heard and saw at a robot's pit. */
export type PitBody = Omit<Schemas['PitBody'], 'routines'> & { routines?: PitRoutine[] };
export type PitRoutine = Omit<Schemas['PitRoutine'], 'path'> & { path?: Point[] };

/** What happened around a playoff match beside its result. */
export type PlayoffBody = Schemas['PlayoffBody'];
/** What was heard of how a captain will choose. */
export type PinBody = Schemas['PinBody'];
/** A selection played for practice. */
export type RehearsalBody = Schemas['RehearsalBody'];

/** What stands in the body of each kind of record, once resolved. */
export interface Bodies {
  observation: Observation;
  result: ResultBody;
  mark: MarkBody;
  list: ListBody;
  entry: EntryBody;
  note: NoteBody;
  question: QuestionBody;
  training: TrainingBody;
  judgement: JudgementBody;
  selection: SelectionBody;
  agreement: AgreementBody;
  debrief: DebriefBody;
  sketch: SketchBody;
  rota: RotaBody;
  seat: SeatBody;
  pit: PitBody;
  playoff: PlayoffBody;
  pin: PinBody;
  rehearsal: RehearsalBody;
}
export type Kind = keyof Bodies;

/** One version of one record, as a device made it. It never changes. */
export type Revision = Omit<Schemas['Revision'], 'body'> & { body: Record<string, unknown> };
export type SentRevision = Schemas['SentRevision'];
export type SyncAnswer = Schemas['PushAnswer'];
export type FeedAnswer = Schemas['PullAnswer'];
export type FeedItem = Schemas['FeedItem'];

export type Estimates = Schemas['Estimates'];
export type TeamEstimate = Schemas['TeamEstimate'];
export type ActionEstimate = Schemas['ActionEstimate'];
export type Judgements = Schemas['Judgements'];
export type JudgedRobot = Schemas['JudgedRobot'];
export type Forecasts = Schemas['Forecasts'];
export type Forecast = Schemas['Forecast'];
export type MatchForecast = Schemas['MatchForecast'];
export type Standings = Schemas['Standings'];
export type Calibration = Schemas['Calibration'];
export type Truth = Schemas['Truth'];
export type Suspect = Schemas['Suspect'];
export type Jump = Schemas['Jump'];
export type Duty = Schemas['Duty'];
export type Coverage = Schemas['Coverage'];
export type CoveredSeat = Schemas['CoveredSeat'];
export type ScoutReport = Schemas['ScoutReport'];
export type Goal = Schemas['Goal'];
export type Happening = Schemas['Happening'];
export type Matter = Schemas['Matter'];
export type GoalNode = Schemas['Node'];
export type Ending = Schemas['Ending'];
export type Ranked = Schemas['Ranked'];
export type Hardness = Schemas['Hardness'];
export type LeadTime = Schemas['Lead'];
export type Bin = Schemas['Bin'];
export type Trust = Schemas['Trust'];
export type PlayedForecast = Schemas['PlayedForecast'];
export type Distribution = Schemas['Distribution'];
export type WhatIf = Schemas['WhatIf'];
export type WhatIfRequest = Schemas['WhatIfRequest'];
export type Brief = Schemas['Brief'];
export type BriefRobot = Schemas['BriefRobot'];
export type BriefDeed = Schemas['BriefDeed'];
export type BriefClash = Schemas['BriefClash'];
export type BriefReach = Schemas['BriefReach'];
export type BriefTarget = Schemas['BriefTarget'];
export type BriefJob = Schemas['BriefJob'];
export type BriefAssume = Schemas['BriefAssume'];
/** Who plays, whose side to take, what to go for and what to assume; absent: as the schedule has it, and as usual. */
export interface BriefQuery extends Partial<BriefAssume> {
  red?: string | undefined;
  blue?: string | undefined;
  ours?: Colour | undefined;
  squad?: string | undefined;
  goal?: 'win' | 'ranking_points' | undefined;
}
export type ScoreSpread = Schemas['ScoreSpread'];

export type Bracket = Schemas['Bracket'];
export type BracketSeries = Schemas['BracketSeries'];
export type BracketSide = Schemas['BracketSide'];

export type Advice = Schemas['Advice'];
export type Candidate = Schemas['Candidate'];
export type Pin = Schemas['Pin'];
export type AdviceLine = Schemas['AdviceLine'];
export type Knowledge = Schemas['Knowledge'];
export type AdviseRequest = Schemas['AdviseRequest'];

/** A rota that is not in force. */
export type RotaPlan = Schemas['Rota'];
export type RotaLoss = Schemas['Loss'];
export type RotaGoals = Schemas['Goals'];

export type Code = Schemas['Code'];
export type Member = Schemas['Member'];
export type Held = Schemas['Held'];

/** What a table or file would change, or has changed, and what is wrong in it. */
export type Report = Schemas['Report'];
export type ProblemItem = Schemas['ProblemItem'];

package record

import "github.com/google/uuid"

// QuestionBody is the JSON body of a record of kind "question": something that the
// lead wants to know. Asked of scouts, it shows on the tablet that watches the
// robot next; the answer stands in that scout's observation (AnswersTo).
type QuestionBody struct {
	Team    TeamID   `json:"team,omitempty"`     // empty: about any robot
	Match   *MatchID `json:"match,omitempty"`    // nil: in whichever match the robot is watched next
	Text    string   `json:"text"`               // as the scout reads it
	Owner   string   `json:"owner,omitempty"`    // nickname of who sees to it
	AskedOf string   `json:"asked_of,omitempty"` // AskedOfScouts, or AskedOfLeads, which empty stands for
	// Record is the observation that its scout is asked about: the question shows
	// on the tablet that made it, and names nobody to others. nil: whoever watches.
	Record *uuid.UUID `json:"record,omitempty"`
	Done   bool       `json:"done,omitempty"` // answered well enough, or given up
}

// Of whom a question is asked.
const (
	AskedOfScouts = "scouts" // shows on scouts' tablets
	AskedOfLeads  = "leads"  // an open question among leads and coaches; scouts do not see it
)

// Training is the JSON body of a record of kind "training": what one scout
// counted in an invented match of which the truth is known.
type Training struct {
	Scout  string         `json:"scout"`
	Script TrainingScript `json:"script"`
	// Truth and Seen are by action id, of a choice by "action:option" with Made
	// 1. What is missing in Seen was not counted and is no evidence.
	Truth     map[string]Tally `json:"truth"`
	Seen      map[string]Tally `json:"seen"`
	Discarded bool             `json:"discarded,omitempty"` // kept and not used
}

// TrainingScript names the invented match: the same three give the same match.
type TrainingScript struct {
	Seed    int64   `json:"seed"`
	Version int     `json:"version"` // of the rules by which matches are invented
	Seconds float64 `json:"seconds"`
}

// Judgement is the JSON body of a record of kind "judgement": who of the robots
// of one match was best and who worst at what a question asks, in one scout's
// eyes. Best and Worst both empty: no difference worth the name.
type Judgement struct {
	Match     MatchID  `json:"match"`
	Play      int      `json:"play,omitempty"` // 0 is read as 1
	Question  string   `json:"question"`       // id in the game file
	Scout     string   `json:"scout"`
	Teams     []TeamID `json:"teams"` // who were compared
	Best      TeamID   `json:"best,omitempty"`
	Worst     TeamID   `json:"worst,omitempty"`
	Discarded bool     `json:"discarded,omitempty"` // kept and not used
}

// JudgementScale is what all judgements on one question say together. Only
// robots that were compared at least once stand in it.
type JudgementScale struct {
	Question   string          `json:"question"` // id in the game file
	Judgements int             `json:"judgements"`
	Teams      []JudgedRobot   `json:"teams" nullable:"false"` // best first
	Scouts     []JudgingPerson `json:"scouts" nullable:"false"`
}

// JudgedRobot is one robot's place on a scale.
type JudgedRobot struct {
	Team     TeamID  `json:"team"`
	Compared int     `json:"compared"` // judgements in which it took part
	Best     int     `json:"best"`     // times it was called best
	Worst    int     `json:"worst"`
	Worth    float64 `json:"worth"` // log odds against a middling robot
	SD       float64 `json:"sd"`
	Rank     int     `json:"rank"`      // 1 is best
	RankLow  int     `json:"rank_low"`  // 80 % interval of the rank
	RankHigh int     `json:"rank_high"` // not below RankLow
}

// JudgingPerson is who judged how often.
type JudgingPerson struct {
	Scout      string `json:"scout"`
	Judgements int    `json:"judgements"`
}

package record

import (
	"time"

	"sextant/stats/game"
)

// TeamID is a team's number as text: digits that do not start with 0, and one
// capital letter at the end for a second robot. See ValidTeam.
type TeamID string

// Team is one entry of the team list.
type Team struct {
	ID   TeamID `json:"team"`
	Name string `json:"name"`
	Pit  string `json:"pit,omitempty"` // pit place
}

// Colour is one side of a match.
type Colour string

// The two sides.
const (
	Red  Colour = "red"
	Blue Colour = "blue"
)

// Match is one game between a red and a blue alliance.
type Match struct {
	ID       MatchID   `json:"match"`
	Play     int       `json:"play"`      // 1, 2, …; the play that counts is the last
	StartsAt time.Time `json:"starts_at"` // planned start; zero: not known
	Red      Alliance  `json:"red"`
	Blue     Alliance  `json:"blue"`
}

// Played reports whether both alliances have an official result.
func (m *Match) Played() bool { return m.Red.Result != nil && m.Blue.Result != nil }

// Side returns the alliance of the given colour.
func (m *Match) Side(c Colour) *Alliance {
	if c == Blue {
		return &m.Blue
	}
	return &m.Red
}

// Alliance is the robots of one side, and its official result once played.
type Alliance struct {
	Teams        []TeamID `json:"teams"` // in the order of stations 1, 2, 3
	Surrogates   []TeamID `json:"surrogates,omitempty"`
	Absent       []TeamID `json:"absent,omitempty"`
	Disqualified []TeamID `json:"disqualified,omitempty"`
	Cards        []TeamID `json:"cards,omitempty"`
	Result       *Result  `json:"result,omitempty"` // nil: not played
}

// Result is what the venue published for one alliance.
type Result struct {
	Score         float64            `json:"score"`                    // fouls received included
	FromFouls     *float64           `json:"from_fouls,omitempty"`     // points received by the opponent's fouls; nil: not published
	Components    map[string]float64 `json:"components,omitempty"`     // by component id; absent: not published
	RankingPoints *float64           `json:"ranking_points,omitempty"` // nil: not published
	// Robots has official values per robot: by action id, one value a robot
	// in the order of Alliance.Teams. Counts and flags are numbers as text,
	// choices option ids, "" unknown.
	Robots map[string][]string `json:"robots,omitempty"`
}

// Own returns the score without the points received by fouls, which count as
// zero when they were not published.
func (r *Result) Own() float64 {
	if r.FromFouls == nil {
		return r.Score
	}
	return r.Score - *r.FromFouls
}

// Observation is what one scout saw of one robot in one match. It is also the
// JSON body of a record of kind "observation". What is absent from the maps
// was not watched, which is never the same as zero.
type Observation struct {
	Match   MatchID                `json:"match"`
	Play    int                    `json:"play,omitempty"` // 0 is read as 1
	Team    TeamID                 `json:"team"`
	Scout   string                 `json:"scout"`
	Counts  map[string]Tally       `json:"counts,omitempty"`  // count, flag (0 or 1) and volume actions, by id
	Choices map[string]Chosen      `json:"choices,omitempty"` // choice actions, by id
	Fouls   map[string]float64     `json:"fouls,omitempty"`   // by foul id
	Answers map[string]game.Answer `json:"answers,omitempty"` // match questions, by id
	// AnswersTo are answers to questions of the lead, by record id of the QuestionBody.
	AnswersTo map[string]string `json:"answers_to,omitempty"`
	Absent    bool              `json:"absent,omitempty"` // the robot did not show
	Note      string            `json:"note,omitempty"`
	// From and To are the part of the match that the scout watched, in milliseconds
	// since its start: somebody else watched before or after. nil: its start, its end.
	From   *int  `json:"from,omitempty"`
	To     *int  `json:"to,omitempty"`
	Taps   []Tap `json:"taps,omitempty"`   // the timeline that the counts come from
	Edited bool  `json:"edited,omitempty"` // counts were corrected by hand and win over the taps
	// Discarded: somebody decided that this record is no evidence; it is kept and not used.
	Discarded bool `json:"discarded,omitempty"`
	// Checked: a lead looked at this record when it was in doubt, and it is right as it stands.
	Checked bool   `json:"checked,omitempty"`
	Reason  string `json:"reason,omitempty"` // why a lead changed it, as people read it in its history
}

// Tally is makes and misses of one action. Missed is nil where misses are not
// recorded or were not watched; Made is nil where only misses were watched.
type Tally struct {
	Made   *float64 `json:"made,omitempty"`
	Missed *float64 `json:"missed,omitempty"`
}

// Chosen is the answer to a choice action. Option is empty where only Tried was watched.
type Chosen struct {
	Option string `json:"option,omitempty"`
	Tried  *bool  `json:"tried,omitempty"` // tried and failed to do better; nil: not watched
}

// Mark says that from Match on the robot is not what it was; of kind "no_change", that
// up to Match it is.
type Mark struct {
	Team  TeamID  `json:"team"`
	Match MatchID `json:"match"`
	Kind  string  `json:"kind"` // changed, repaired, substitute, told_to_defend or no_change
	Note  string  `json:"note,omitempty"`
	// Discarded: somebody took the mark back; it is kept and not used.
	Discarded bool `json:"discarded,omitempty"`
}

// Event is everything an analysis reads: one team's view of one competition.
// Matches are in playing order (MatchID.Compare, then Play), with at most one
// entry per match and play. Nothing in it may be changed by a reader.
type Event struct {
	Game         *game.Game
	OurTeam      TeamID // empty: not said
	Teams        []Team // in order of number; every team of Matches is here
	Matches      []Match
	Observations []Observation
	// Strays are records of teams that are not at the event, most likely mistyped:
	// no evidence, and kept for finding out whose they are. Only package check reads them.
	Strays     []Observation
	Marks      []Mark
	Trainings  []Training  // of scouts before they watched anything; in no order
	Judgements []Judgement // in no order
	// Prior is what an earlier event of the season found; nil: nothing is known.
	Prior *Estimate
}

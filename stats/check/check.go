package check

import (
	"cmp"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/record"
)

// Kind says what is suspected of a record.
type Kind string

// The kinds of the command line's contract.
const (
	Missing     Kind = "missing"      // nobody watched the robot, or only a part of its match
	Disagree    Kind = "disagree"     // two records of one robot are not of one match
	Swap        Kind = "swap"         // the rows of two robots were exchanged
	WrongRobot  Kind = "wrong_robot"  // the row is another robot's, or of another match
	Period      Kind = "period"       // autonomous counts were counted in a later period
	Stuck       Kind = "stuck"        // one counter ran away
	Outlier     Kind = "outlier"      // the row fits nothing
	Absent      Kind = "absent"       // called absent, and it scored
	UnknownTeam Kind = "unknown_team" // no such team
)

// Suspect is one thing that is worth a look.
type Suspect struct {
	Match record.MatchID `json:"match"`
	Play  int            `json:"play,omitempty"` // 0 or 1: the first
	Kind  Kind           `json:"kind"`
	// Teams: the robot that the record is about first; then the one that it is
	// exchanged with or really of, or the candidates for an unknown number.
	Teams  []record.TeamID `json:"teams" nullable:"false"`
	Scouts []string        `json:"scouts" nullable:"false"` // who made the records in doubt, in the order of Teams
	// Other is the match that the record seems to be of; nil: Match.
	Other       *record.MatchID `json:"other,omitempty"`
	Action      string          `json:"action,omitempty"` // the action in doubt; "" the whole record
	Probability float64         `json:"probability"`      // that something is wrong as Kind says
	// Effect is how far the contribution of Most, the robot that it moves most,
	// moves when the record is put right, in points per match.
	Effect float64       `json:"effect"`
	Most   record.TeamID `json:"most,omitempty"`
	// Shift is by how much, and whither, in points; 0: not known beforehand.
	Shift  float64 `json:"shift,omitempty"`
	Reason string  `json:"reason"` // a short sentence for people
	fact   bool
	// Also is, of two records that were exchanged, how the other robot moves.
	Also *Moved `json:"also,omitempty"`
	// Likely are the counts as they most likely were, where a count is in doubt.
	Likely []Likely `json:"likely,omitempty"`
}

// Moved is by how many points a match a robot's contribution moves.
type Moved struct {
	Team  record.TeamID `json:"team"`
	Shift float64       `json:"shift"`
}

// Likely is one count of a record in doubt, and what it most likely was.
type Likely struct {
	Action string  `json:"action"`
	Missed bool    `json:"missed,omitempty"` // its misses
	From   float64 `json:"from"`
	To     float64 `json:"to"`
}

// Calibrated reports whether a suspect's probability is a matter of likelihood,
// and so one that came true as often on invented events, rather than a fact or
// a rule of thumb.
func Calibrated(s *Suspect) bool { return !s.fact && s.Kind != Missing && s.Kind != UnknownTeam }

// Cost is what orders the queue: probability times effect.
func (s *Suspect) Cost() float64 { return s.Probability * s.Effect }

// Report is the queue of an event.
type Report struct {
	Suspects []Suspect `json:"suspects" nullable:"false"` // most worth a look first
}

// Options of Find. The zero value is the usual.
type Options struct {
	// Least is the probability from which on something is listed; 0: a tenth.
	Least float64
	// Known, if not nil, are true means that stand in for what records tell of
	// the robots' profiles: for measuring how much knowing them would help.
	Known map[record.TeamID]Means
	// Raw leaves probabilities as likelihoods give them: for learning how to
	// correct them.
	Raw bool
}

// Means are a robot's true means: units a match by action id, misses by
// "ID_missed", and the share of an option by "ID:option".
type Means map[string]float64

const defaultLeast = 0.1

// Find makes the queue of an event. fit is the estimate of the same event; nil,
// as while there is nothing to estimate from, leaves every effect 0. Records of
// teams that are not at the event may be among ev.Observations: they are the
// kind unknown_team.
func Find(ev *record.Event, fit *contrib.Fit, opt Options) Report {
	t := newTable(ev, opt)
	return t.queue(newEffects(t, fit))
}

// queue is the report of a table.
func (t *table) queue(e *effects) Report {
	var all []Suspect
	all = append(all, t.missing(e)...)
	all = append(all, t.strangers(e)...)
	all = append(all, t.doubts(e)...)
	all = slices.DeleteFunc(all, func(s Suspect) bool { return s.Probability < t.opt.Least })
	slices.SortStableFunc(all, func(a, b Suspect) int {
		return cmp.Or(cmp.Compare(b.Cost(), a.Cost()), cmp.Compare(b.Probability, a.Probability), a.Match.Compare(b.Match),
			cmp.Compare(a.Play, b.Play), cmp.Compare(a.Kind, b.Kind), slices.Compare(a.Teams, b.Teams), slices.Compare(a.Scouts, b.Scouts))
	})
	if all == nil {
		all = []Suspect{}
	}
	return Report{Suspects: all}
}

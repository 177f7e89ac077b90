package rota

import (
	"fmt"
	"slices"

	"sextant/stats/record"
)

// Person is one who can watch.
type Person struct {
	Scout  string
	Shifts []record.RotaShift // none: all the time
	Not    record.TeamID      // a robot that this person does not watch, the own one; empty: none
}

// Robot is what is known of a robot before the first match of a plan.
type Robot struct {
	Team record.TeamID
	// Var is the variance of what is not known of what it adds; Luck that of what
	// it does in one match around that; Walk what Var grows by with each of its
	// matches. All in points².
	Var, Luck, Walk float64
	Seen            int     // records of it so far
	List            float64 // 0 to 1: how much it matters to know it in the end
	Asked           bool    // somebody asked a question about it that only a record answers
}

// Weights say what counts how much; the unit is what is not known of one
// average robot before the plan. Negative weights are refused.
type Weights struct {
	Brief  float64 `json:"brief"`  // a robot in one of our matches, when that match comes
	List   float64 `json:"list"`   // a robot as much as it matters for the list, at the end
	Detail float64 `json:"detail"` // a robot never watched: totals don't tell how it scores
	Asked  float64 `json:"asked"`  // an open question, until it is answered
	Spread float64 `json:"spread"` // a scout and a robot that have not met
	Twice  float64 `json:"twice"`  // two scouts who never watched the same robot at once
}

// DefaultWeights are those that the figures of rota.md are made with.
func DefaultWeights() Weights {
	return Weights{Brief: 1, List: 1, Detail: 0.25, Asked: 1, Spread: 0.005, Twice: 0.005}
}

// Request is what a plan is made for.
type Request struct {
	Matches []record.Match // ahead, in playing order; results are not looked at
	Our     record.TeamID  // empty: no match is ours
	People  []Person
	Robots  []Robot // of a robot that is not here nothing is known
	Seats   int     // places in the stands, at least 1; more people than that take turns
	Row     int     // matches in a row before a break, 0: no breaks
	Rest    int     // matches of a break, at least 1 when Row is set
	// Before is who watched the latest matches, oldest first, by scout: whose row
	// goes on. Nobody has had a break before the first of them.
	Before []map[string]bool
	// Kept are seats that stay as they are as far as the constraints allow: those
	// of people who are on their way. Their reasons are not looked at.
	Kept    []record.SeatBody
	Weights Weights
}

// Loss is what remains unknown under a plan, in the terms of Weights and their unit.
type Loss struct {
	Brief  float64 `json:"brief"`
	List   float64 `json:"list"`
	Detail float64 `json:"detail"`
	Asked  float64 `json:"asked"`
	Spread float64 `json:"spread"` // falls from 0 by its weight with every scout and robot that meet
	Twice  float64 `json:"twice"`  // falls from 0 by its weight with every two scouts that watch the same robot
}

// Total is the sum, which Plan makes small.
func (l Loss) Total() float64 { return l.Brief + l.List + l.Detail + l.Asked + l.Spread + l.Twice }

// Result is a plan.
type Result struct {
	Seats []record.SeatBody `json:"seats" nullable:"false"`
	Loss  Loss              `json:"loss"`
	// Nobody is the loss if nobody watched.
	Nobody Loss `json:"nobody"`
}

// Plan makes the rota. Its only error is a *RequestError.
func Plan(req *Request) (*Result, error) {
	p, err := newPlanner(req)
	if err != nil {
		return nil, err
	}
	out := &Result{Nobody: p.loss()}
	p.takeBreaks()
	p.keep()
	for m := range p.matches {
		p.solve(m)
	}
	p.improve()
	out.Loss = p.loss()
	out.Seats = p.seats()
	return out, nil
}

// RequestError says what is wrong with a request.
type RequestError struct{ message string }

func (e *RequestError) Error() string { return e.message }

func refuse(format string, args ...any) error { return &RequestError{fmt.Sprintf(format, args...)} }

func (r *Request) check() error {
	w := r.Weights
	switch {
	case r.Seats < 1:
		return refuse("a rota needs at least one seat, not %d", r.Seats)
	case r.Row < 0 || r.Row > 0 && r.Rest < 1:
		return refuse("%d matches in a row and a break of %d: give 0 for no breaks, or at least 1 of each", r.Row, r.Rest)
	case min(w.Brief, w.List, w.Detail, w.Asked, w.Spread, w.Twice) < 0:
		return refuse("weights are 0 or more")
	}
	names := map[string]bool{}
	for _, p := range r.People {
		if p.Scout == "" || names[p.Scout] {
			return refuse("scout %q stands twice or without a name", p.Scout)
		}
		names[p.Scout] = true
		for _, s := range p.Shifts {
			if s.From.Compare(s.To) > 0 {
				return refuse("a shift of %s begins with %s, after its end %s", p.Scout, s.From, s.To)
			}
		}
	}
	for i := 1; i < len(r.Matches); i++ {
		if r.Matches[i-1].ID.Compare(r.Matches[i].ID) >= 0 {
			return refuse("match %s does not come after %s", r.Matches[i].ID, r.Matches[i-1].ID)
		}
	}
	for i := range r.Matches {
		if n := len(r.Matches[i].Red.Teams) + len(r.Matches[i].Blue.Teams); n > mostRobots {
			return refuse("match %s has %d robots; a rota knows matches of up to %d", r.Matches[i].ID, n, mostRobots)
		}
	}
	for i := range r.Robots {
		b := &r.Robots[i]
		if !(b.Var >= 0 && b.Luck > 0 && b.Walk >= 0 && b.List >= 0 && b.List <= 1) {
			return refuse("robot %s: variances of %g, %g and %g, list %g", b.Team, b.Var, b.Luck, b.Walk, b.List)
		}
	}
	return nil
}

// on: the person is there for that match.
func (p *Person) on(m record.MatchID) bool {
	return len(p.Shifts) == 0 || slices.ContainsFunc(p.Shifts, func(s record.RotaShift) bool {
		return s.From.Compare(m) <= 0 && m.Compare(s.To) <= 0
	})
}

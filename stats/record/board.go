package record

import (
	"errors"
	"time"
)

// PinBody is the JSON body of a record of kind "pin": what somebody heard of how
// a captain will choose in the alliance selection. There is one of each captain
// and team, so that two people who heard it say one thing.
type PinBody struct {
	Captain TeamID `json:"captain"`
	Team    TeamID `json:"team"`
	Kind    string `json:"kind"` // PinWants, PinAgreed or PinRefused
	Removed bool   `json:"removed,omitempty"`
}

// What is heard of a captain and a team.
const (
	PinWants   = "wants"   // the captain calls the team if it can
	PinAgreed  = "agreed"  // it does, and the team accepts
	PinRefused = "refused" // the captain never calls the team, or the team would decline
)

// RehearsalBody is the JSON body of a record of kind "rehearsal": an alliance
// selection that was played for practice, kept to be compared with others.
type RehearsalBody struct {
	Name    string          `json:"name"`
	Our     TeamID          `json:"our,omitempty"`
	Ranking []TeamID        `json:"ranking" nullable:"false"`
	Moves   []RehearsedMove `json:"moves" nullable:"false"`
	Calls   []RehearsedCall `json:"calls,omitempty"` // ours, in order
	Removed bool            `json:"removed,omitempty"`
}

// RehearsedMove is a move of a rehearsal, as in SelectionBody.
type RehearsedMove struct {
	Captain TeamID `json:"captain"`
	Round   int    `json:"round,omitempty"`
	Invites TeamID `json:"invites,omitempty"`
	Answer  string `json:"answer"`
	Backup  bool   `json:"backup,omitempty"`
}

// RehearsedCall is a call of ours in a rehearsal beside the one that was
// recommended. Worths are in the event's worth (see Candidate), from 0 to 1 if
// winning is worth 1.
type RehearsedCall struct {
	Team      TeamID  `json:"team"`
	Worth     float64 `json:"worth"`
	Best      TeamID  `json:"best"`
	BestWorth float64 `json:"best_worth"`
	SE        float64 `json:"se"` // of the difference
}

const maxMoves = 500 // of a rehearsal

func (c *bodyCheck) pin() {
	c.object(c.doc.Value, "", fields{
		"captain": c.team, "team": c.team, "kind": c.among(PinWants, PinAgreed, PinRefused), "removed": c.flag,
	}, "captain", "team", "kind")
}

func (c *bodyCheck) rehearsal() {
	each := func(known fields, needed ...string) check {
		return func(v any, at string) { c.object(v, at, known, needed...) }
	}
	score := c.number(CheckScore)
	c.object(c.doc.Value, "", fields{
		"name": c.text(1, MaxName), "our": c.team, "removed": c.flag,
		"ranking": func(v any, at string) { c.list(v, at, maxMoves, c.team) },
		"moves": func(v any, at string) {
			c.list(v, at, maxMoves, each(fields{
				"captain": c.team, "round": c.count(99), "invites": c.team,
				"answer": c.among(Accepts, Declines, NoShow, NobodyLeft), "backup": c.flag,
			}, "captain", "answer"))
		},
		"calls": func(v any, at string) {
			c.list(v, at, maxMoves, each(fields{
				"team": c.team, "worth": score, "best": c.team, "best_worth": score, "se": score,
			}, "team", "worth", "best", "best_worth", "se"))
		},
	}, "name", "ranking", "moves")
}

// time checks a time of RFC 3339.
func (c *bodyCheck) time(v any, at string) {
	c.word(v, at, func(s string) error {
		if _, err := time.Parse(time.RFC3339, s); err != nil {
			return errors.New("this is no time; write one such as 2031-03-06T21:15:00Z")
		}
		return nil
	})
}

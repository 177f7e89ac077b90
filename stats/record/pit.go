package record

import (
	"fmt"
	"regexp"

	"sextant/stats/game"
)

// PitBody is the JSON body of a record of kind "pit": what one visitor heard and
// saw at a robot's pit. It is what a team says, never evidence of what its robot
// does.
type PitBody struct {
	Team  TeamID `json:"team"`
	Scout string `json:"scout"` // who was there
	// Answers to the game's questions with when "pit", by id.
	Answers   map[string]game.Answer `json:"answers,omitempty"`
	Photos    []string               `json:"photos,omitempty"` // SHA-256 in hexadecimal, the best first
	Routines  []PitRoutine           `json:"routines,omitempty"`
	Note      string                 `json:"note,omitempty"`
	Again     bool                   `json:"again,omitempty"`     // somebody should go there once more
	Discarded bool                   `json:"discarded,omitempty"` // kept and not used
}

// PitRoutine is an autonomous routine as the team tells it.
type PitRoutine struct {
	Name  string `json:"name"`
	Start string `json:"start,omitempty"` // where it begins, an option of the question about that
	Claim string `json:"claim,omitempty"` // what it brings, in their words
	// Path in metres on the game's drawing, seen from the red side.
	Path [][2]float64 `json:"path,omitempty"`
}

// What one pit report may hold.
const (
	maxPhotos   = 6
	maxRoutines = 8
	maxPath     = 200
)

var photoForm = regexp.MustCompile(`^[0-9a-f]{64}$`)

func (c *bodyCheck) pit() {
	var starts []string
	if q, ok := c.g.QuestionByRole(game.RoleStartPosition); ok {
		starts = q.Options
	}
	point := func(v any, at string) {
		pair, ok := v.([]any)
		if !ok || len(pair) != 2 {
			c.problem(at, "a point is an array of x and y in metres")
			return
		}
		for i, x := range pair {
			c.number(func(n float64) error {
				if n < -5 || n > 105 {
					return fmt.Errorf("%g m is not on any field", n)
				}
				return nil
			})(x, at+game.Pointer(i))
		}
	}
	routine := func(v any, at string) {
		c.object(v, at, fields{
			"name": c.text(1, MaxName), "start": c.among(starts...), "claim": c.text(0, MaxText),
			"path": func(v any, at string) { c.list(v, at, maxPath, point) },
		}, "name")
	}
	c.object(c.doc.Value, "", fields{
		"team":  c.team,
		"scout": func(v any, at string) { c.word(v, at, CheckScout) },
		"answers": func(v any, at string) {
			c.members(v, at, func(name string) (check, string) { return c.answerWhen(name, "pit") })
		},
		"photos": func(v any, at string) {
			c.list(v, at, maxPhotos, func(v any, at string) {
				c.word(v, at, func(s string) error {
					if !photoForm.MatchString(s) {
						return fmt.Errorf("%q is no SHA-256 in small hexadecimal letters", clip(s))
					}
					return nil
				})
			})
		},
		"routines": func(v any, at string) { c.list(v, at, maxRoutines, routine) },
		"note":     c.text(0, MaxText), "again": c.flag, "discarded": c.flag,
	}, "team", "scout")
}

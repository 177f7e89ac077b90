package record

import "fmt"

// AgreementBody is the JSON body of a record of kind "agreement": one thing that
// was agreed on with partners before a match, and what became of it. All members
// are optional in a patch.
type AgreementBody struct {
	Match   MatchID `json:"match"`
	Team    TeamID  `json:"team,omitempty"` // who promised; empty: all of the alliance
	Text    string  `json:"text"`
	Kept    string  `json:"kept,omitempty"` // Kept, Partly or NotKept; empty: nobody said yet
	Removed bool    `json:"removed,omitempty"`
}

// DebriefBody is the JSON body of a record of kind "debrief": what is said right
// after a match. Without a team it is about the match, with one about that
// robot of our alliance, so that two people who speak of two partners never
// meet. All members are optional in a patch.
type DebriefBody struct {
	Match MatchID `json:"match"`
	Play  int     `json:"play,omitempty"` // 0 is read as 1
	Team  TeamID  `json:"team,omitempty"`
	Plan  string  `json:"plan,omitempty"`  // of the match: Kept, Partly or NotKept
	Broke string  `json:"broke,omitempty"` // of the match: what broke or went wrong
	Again string  `json:"again,omitempty"` // of a robot: would we play with it again: Yes, Unsure or No
}

// What became of a promise or a plan.
const (
	Kept    = "kept"
	Partly  = "partly"
	NotKept = "not_kept"
)

// Whether we would play with a robot again.
const (
	AgainYes    = "yes"
	AgainUnsure = "unsure"
	AgainNo     = "no"
)

// SketchBody is the JSON body of a record of kind "sketch": one mark on the
// drawing of the field, at one time of a match. It is where a robot stands
// (Team and Place), a stroke of the pen (Ink) or a word (Text and Place). Each
// is a record of its own: two people who draw at once lose nothing. All members
// are optional in a patch.
type SketchBody struct {
	Match   MatchID      `json:"match"`
	Second  int          `json:"second"` // since the match began
	Team    TeamID       `json:"team,omitempty"`
	Place   *[2]float64  `json:"place,omitempty"` // metres, as in the game file's field
	Ink     [][2]float64 `json:"ink,omitempty"`   // metres, from the first to the last
	Text    string       `json:"text,omitempty"`
	Removed bool         `json:"removed,omitempty"`
}

const (
	maxSecond = 3600
	maxInk    = 500  // points of a stroke
	maxMetres = 1000 // of a field, either way
	maxWord   = 80   // characters of a word on a drawing
)

func (c *bodyCheck) agreement() {
	c.object(c.doc.Value, "", fields{
		"match": c.match, "team": orNull(c.team), "text": c.text(1, MaxText),
		"kept": orNull(c.among(Kept, Partly, NotKept)), "removed": c.flag,
	})
}

func (c *bodyCheck) debrief() {
	c.object(c.doc.Value, "", fields{
		"match": c.match, "play": c.play, "team": c.team, "plan": orNull(c.among(Kept, Partly, NotKept)),
		"broke": orNull(c.text(0, MaxText)), "again": orNull(c.among(AgainYes, AgainUnsure, AgainNo)),
	})
}

func (c *bodyCheck) sketch() {
	c.object(c.doc.Value, "", fields{
		"match": c.match, "second": c.count(maxSecond), "team": c.team, "place": c.place,
		"ink":  func(v any, at string) { c.list(v, at, maxInk, c.place) },
		"text": c.text(1, maxWord), "removed": c.flag,
	})
}

// place checks a point of the field.
func (c *bodyCheck) place(v any, at string) {
	if p, ok := v.([]any); !ok || len(p) != 2 {
		c.problem(at, "write the metres along the field and across it, as two numbers")
		return
	}
	c.list(v, at, 2, c.number(func(n float64) error {
		if !(n >= 0 && n <= maxMetres) {
			return fmt.Errorf("write metres from 0 to %d", maxMetres)
		}
		return nil
	}))
}

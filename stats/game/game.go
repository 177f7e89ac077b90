package game

import (
	"encoding/json"
	"fmt"
)

// Kind says how an action is recorded.
type Kind string

// The four kinds of an action.
const (
	Count  Kind = "count"  // whole number
	Flag   Kind = "flag"   // done or not
	Choice Kind = "choice" // one option of several
	Volume Kind = "volume" // many small pieces, an estimate; see Action.Steps
)

// Game is one season's game: what a robot can do, what it is worth, and how a
// weekend is ranked, selected and played out. It is read from game.json and
// never written in code; nothing outside this package may know an id of a game.
type Game struct {
	ID            string             `json:"id"`
	Name          string             `json:"name"`
	Version       int                `json:"version"`
	Alliance      AllianceSize       `json:"alliance"`
	Values        map[string]float64 `json:"values,omitempty"`
	Periods       []Period           `json:"periods"`
	Actions       []Action           `json:"actions"`
	Limits        []Limit            `json:"limits,omitempty"`
	Bonuses       []Bonus            `json:"bonuses,omitempty"`
	Fouls         []Foul             `json:"fouls,omitempty"`
	Components    []Component        `json:"components,omitempty"`
	RankingPoints []RankingPoint     `json:"ranking_points,omitempty"`
	RankingOrder  []string           `json:"ranking_order,omitempty"`
	Selection     *Selection         `json:"selection,omitempty"`
	Playoff       *Playoff           `json:"playoff,omitempty"`
	Questions     []Question         `json:"questions,omitempty"`
	Field         *Field             `json:"field,omitempty"`
	Phrases       []string           `json:"phrases,omitempty"`
	// Seats is how many scouts watch a match at once; 0 means one a robot.
	Seats int `json:"seats,omitempty"`
}

// AllianceSize says how many robots play together: two or three.
type AllianceSize struct {
	Robots int `json:"robots"`
}

// Period is a part of the match. Within names the period it is the last part
// of; such a period adds no time of its own.
type Period struct {
	ID         string  `json:"id"`
	Name       string  `json:"name"`
	Seconds    float64 `json:"seconds"`
	PauseAfter float64 `json:"pause_after,omitempty"` // seconds before the next period starts
	Within     string  `json:"within,omitempty"`
}

// Action is one thing that a robot, or an alliance (By), can do.
type Action struct {
	ID     string  `json:"id"`
	Period string  `json:"period,omitempty"` // empty: at any time
	Name   string  `json:"name,omitempty"`   // empty: the id is shown
	Kind   Kind    `json:"kind"`
	Points float64 `json:"points,omitempty"` // a unit; a choice has them on its options
	// Misses: misses are recorded beside makes (count only).
	Misses bool `json:"misses,omitempty"`
	// AllianceMax caps how many units an alliance is credited with; nil: no cap.
	AllianceMax *float64 `json:"alliance_max,omitempty"`
	Options     []Option `json:"options,omitempty"`
	// Tried: tried-and-failed is recorded beside a choice.
	Tried bool  `json:"tried,omitempty"`
	Steps []int `json:"steps,omitempty"` // the buttons of a volume
	// By is "alliance" for what belongs to no single robot, else empty.
	By    string `json:"by,omitempty"`
	Helps string `json:"helps,omitempty"` // the action that this one makes possible
}

// Option is one answer of a choice.
type Option struct {
	ID          string   `json:"id"`
	Name        string   `json:"name,omitempty"`
	Points      float64  `json:"points,omitempty"`
	AllianceMax *float64 `json:"alliance_max,omitempty"` // robots credited with it
}

// Limit caps the sum of several actions, for an alliance or for both together.
type Limit struct {
	Count []string `json:"count"`
	Max   float64  `json:"max"`
	Per   string   `json:"per"` // "alliance" or "match"
}

// Bonus is points for a pattern. Exactly one of ForEach and When is set.
type Bonus struct {
	ID      string     `json:"id"`
	Name    string     `json:"name,omitempty"`
	Points  float64    `json:"points"`
	ForEach *ForEach   `json:"for_each,omitempty"`
	When    *Condition `json:"when,omitempty"`
}

// ForEach pays once for every Step credited units of the actions in Count.
type ForEach struct {
	Count []string `json:"count"`
	Step  float64  `json:"step"`
}

// Foul is something that gives the opponent points (OpponentPoints) and may
// hand it a ranking point (OpponentGains).
type Foul struct {
	ID             string  `json:"id"`
	Name           string  `json:"name,omitempty"`
	OpponentPoints float64 `json:"opponent_points,omitempty"`
	OpponentGains  string  `json:"opponent_gains,omitempty"`
}

// Component is a figure that the venue publishes for an alliance: the points
// of the actions (and bonuses) in Sum, or the units of the actions in Count.
// Exactly one of the two is set.
type Component struct {
	ID    string   `json:"id"`
	Name  string   `json:"name,omitempty"`
	Sum   []string `json:"sum,omitempty"`
	Count []string `json:"count,omitempty"`
}

// RankingPoint is given to every robot of an alliance that meets When.
type RankingPoint struct {
	ID     string    `json:"id"`
	Name   string    `json:"name,omitempty"`
	Points float64   `json:"points"`
	When   Condition `json:"when"`
}

// Condition is a test on what an alliance was credited with. Exactly one form
// is set: Outcome ("win" or "tie"), a component with AtLeast or MoreThan, Both
// (an alliance action that both alliances did), Any or All. Any and All nest
// at most two deep.
type Condition struct {
	Outcome   string      `json:"-"`
	Component string      `json:"component,omitempty"`
	AtLeast   *Value      `json:"at_least,omitempty"`
	MoreThan  string      `json:"more_than,omitempty"` // "opponent"
	Both      string      `json:"both,omitempty"`
	Any       []Condition `json:"any,omitempty"`
	All       []Condition `json:"all,omitempty"`
}

// Value is a number, or the name of one of Game.Values.
type Value struct {
	Name   string
	Number float64
}

// Selection says how alliances are formed.
type Selection struct {
	Alliances int    `json:"alliances"`
	Picks     int    `json:"picks"` // robots that join a captain
	Order     string `json:"order"` // "serpentine"
	Backups   int    `json:"backups,omitempty"`
	Seconds   int    `json:"seconds,omitempty"` // time for a call; 0: not limited
}

// Playoff says how the alliances play it out.
type Playoff struct {
	Format    string   `json:"format"`
	FinalWins int      `json:"final_wins,omitempty"`
	TieOrder  []string `json:"tie_order,omitempty"` // components, best first
	Then      string   `json:"then,omitempty"`      // "replay"
}

// Question is something that is asked rather than counted.
type Question struct {
	ID      string   `json:"id"`
	Name    string   `json:"name,omitempty"`
	Kind    string   `json:"kind"` // number, flag, choice, text or best_worst
	Options []string `json:"options,omitempty"`
	Min     *float64 `json:"min,omitempty"`
	Max     *float64 `json:"max,omitempty"`
	When    string   `json:"when"`           // match, pit or judgement
	Role    string   `json:"role,omitempty"` // what the program recognises; see Roles
	Action  string   `json:"action,omitempty"`
}

// WhenJudgement is Question.When of what is asked over all robots of a match.
const WhenJudgement = "judgement"

// The roles by which the program recognises a question.
const (
	RoleStartPosition    = "start_position"
	RoleStoppedSeconds   = "stopped_seconds"
	RoleDefendingSeconds = "defending_seconds"
	RoleFeedingSeconds   = "feeding_seconds"
	RoleLostSight        = "lost_sight"
	RoleClaim            = "claim"
)

// Field is the drawing of the playing field, in metres.
type Field struct {
	LengthM float64 `json:"length_m"`
	WidthM  float64 `json:"width_m"`
	// Turn says how red's half becomes blue's: "rotate" or "mirror".
	Turn   string  `json:"turn,omitempty"`
	Shapes []Shape `json:"shapes,omitempty"`
	Places []Place `json:"places,omitempty"`
}

// Shape is one thing drawn on the field: a rect (X, Y, W, H), a circle (X, Y,
// R) or a line (X, Y to X2, Y2), in metres.
type Shape struct {
	Kind string  `json:"kind"`
	X    float64 `json:"x"`
	Y    float64 `json:"y"`
	W    float64 `json:"w,omitempty"`
	H    float64 `json:"h,omitempty"`
	R    float64 `json:"r,omitempty"`
	X2   float64 `json:"x2,omitempty"`
	Y2   float64 `json:"y2,omitempty"`
	Name string  `json:"name,omitempty"`
}

// Place is a named point of the field.
type Place struct {
	ID string  `json:"id"`
	X  float64 `json:"x"`
	Y  float64 `json:"y"`
}

// UnmarshalJSON reads "win", "tie" or an object.
func (c *Condition) UnmarshalJSON(b []byte) error {
	*c = Condition{}
	if len(b) > 0 && b[0] == '"' {
		return json.Unmarshal(b, &c.Outcome)
	}
	type plain Condition
	return json.Unmarshal(b, (*plain)(c))
}

// MarshalJSON writes what UnmarshalJSON reads.
func (c Condition) MarshalJSON() ([]byte, error) {
	if c.Outcome != "" {
		return json.Marshal(c.Outcome)
	}
	type plain Condition
	return json.Marshal(plain(c))
}

// UnmarshalJSON reads a number or a name.
func (v *Value) UnmarshalJSON(b []byte) error {
	*v = Value{}
	if len(b) > 0 && b[0] == '"' {
		return json.Unmarshal(b, &v.Name)
	}
	if err := json.Unmarshal(b, &v.Number); err != nil {
		return fmt.Errorf("a value is a number or the name of one of values: %w", err)
	}
	return nil
}

// MarshalJSON writes what UnmarshalJSON reads.
func (v Value) MarshalJSON() ([]byte, error) {
	if v.Name != "" {
		return json.Marshal(v.Name)
	}
	return json.Marshal(v.Number)
}

package record

import "fmt"

// RotaBody is the JSON body of the record of kind "rota", of which an event has
// one: who watches when, and what a plan goes for. It is what the lead set; the
// plan itself is in records of kind "seat".
type RotaBody struct {
	People  []RotaPerson `json:"people" nullable:"false"`
	Seats   int          `json:"seats"`              // places in the stands
	Row     int          `json:"row,omitempty"`      // matches in a row before a break; 0: no breaks
	Rest    int          `json:"rest,omitempty"`     // matches of a break
	NotOurs bool         `json:"not_ours,omitempty"` // nobody watches our own robot
	// Weights by name, see stats/rota; one that is absent is the usual.
	Weights map[string]float64 `json:"weights,omitempty"`
}

// RotaPerson is one who can watch.
type RotaPerson struct {
	Scout  string      `json:"scout"`
	Shifts []RotaShift `json:"shifts,omitempty"` // none: all the time
	Away   bool        `json:"away,omitempty"`   // missing for now: is planned nowhere
}

// RotaShift is a part of the event, both ends included.
type RotaShift struct {
	From MatchID `json:"from"`
	To   MatchID `json:"to"`
}

// SeatBody is the JSON body of a record of kind "seat": whom one scout watches
// in one match, and why.
type SeatBody struct {
	Match  MatchID     `json:"match"`
	Scout  string      `json:"scout"`
	Team   TeamID      `json:"team,omitempty"` // empty: nobody, the scout rests
	Reason *SeatReason `json:"reason,omitempty"`
}

// SeatReason is why. It stands on scouts' tablets and says nothing of plans.
type SeatReason struct {
	Kind  string   `json:"kind"`            // one of SeatReasons
	Match *MatchID `json:"match,omitempty"` // of ours
	Seen  int      `json:"seen,omitempty"`  // times watched before
}

// The kinds of a reason.
const (
	SeatWithUs     = "with_us"
	SeatAgainstUs  = "against_us"
	SeatUnsure     = "unsure" // what the robot adds is not known well enough
	SeatNeverSeen  = "never_seen"
	SeatSeldomSeen = "seldom_seen"
	SeatQuestion   = "question" // somebody asked something about it
	SeatSecond     = "second"   // two watch it, so that scouts can be compared
)

// RotaWeights are the names of what a plan can go for.
func RotaWeights() []string { return []string{"brief", "list", "detail", "asked", "spread", "twice"} }

// What one rota may hold.
const (
	maxPeople = 100
	maxShifts = 20
	maxSeats  = 40
	maxRow    = 200

	// MaxRotaWeight is the most that one goal of a plan can count.
	MaxRotaWeight = 1000
)

func (c *bodyCheck) rota() {
	scouts := map[string]bool{}
	shift := func(v any, at string) {
		c.object(v, at, fields{"from": c.match, "to": c.match}, "from", "to")
	}
	weight := c.number(func(n float64) error {
		if !(n >= 0 && n <= MaxRotaWeight) {
			return fmt.Errorf("%g is no weight; write a number from 0 to %d", n, MaxRotaWeight)
		}
		return nil
	})
	c.object(c.doc.Value, "", fields{
		"people": func(v any, at string) {
			c.list(v, at, maxPeople, func(v any, at string) {
				c.object(v, at, fields{
					"scout": func(v any, at string) {
						c.word(v, at, CheckScout)
						if s, ok := v.(string); ok {
							if scouts[s] {
								c.problem(at, "scout %q stands twice; keep one", clip(s))
							}
							scouts[s] = true
						}
					},
					"shifts": func(v any, at string) { c.list(v, at, maxShifts, shift) },
					"away":   c.flag,
				}, "scout")
			})
		},
		"seats": c.from(1, maxSeats), "row": c.count(maxRow), "rest": c.count(maxRow), "not_ours": c.flag,
		"weights": func(v any, at string) {
			fields := fields{}
			for _, name := range RotaWeights() {
				fields[name] = weight
			}
			c.object(v, at, fields)
		},
	}, "people", "seats")
}

func (c *bodyCheck) seat() {
	c.object(c.doc.Value, "", fields{
		"match": c.match, "team": c.team,
		"scout": func(v any, at string) { c.word(v, at, CheckScout) },
		"reason": func(v any, at string) {
			c.object(v, at, fields{
				"kind":  c.among(SeatWithUs, SeatAgainstUs, SeatUnsure, SeatNeverSeen, SeatSeldomSeen, SeatQuestion, SeatSecond),
				"match": c.match, "seen": c.count(9999),
			}, "kind")
		},
	}, "match", "scout")
}

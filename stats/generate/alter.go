package generate

import (
	"math/rand/v2"

	"sextant/stats/game"
	"sextant/stats/record"
)

// How an altered robot is not what it was.
const (
	Repaired = "repaired" // a mechanism that never worked does from now on
	Broken   = "broken"   // a mechanism stops working for good
	Slower   = "slower"   // everything takes longer
)

// Alterations are all kinds of an alteration.
func Alterations() []string { return []string{Repaired, Broken, Slower} }

// Alteration says that a robot is not what it was from one of its matches on.
type Alteration struct {
	Team   record.TeamID  `json:"team"`
	Match  record.MatchID `json:"match"` // the first in which it is another
	Kind   string         `json:"kind"`
	Action string         `json:"action,omitempty"` // of the mechanism
	Pace   float64        `json:"pace,omitempty"`   // against before, of a slower one
	// Before and After are the robot's expected points a match; only Truth knows them.
	Before float64 `json:"before"`
	After  float64 `json:"after"`
}

const (
	alterEdge = 3 // matches that an altered robot plays on either side, at least
	// Pace of a slower robot, against before; plausible.
	slowest, hardly = 0.4, 0.8
)

// alter lets a share of the robots change once during the event.
func (w *World) alter(rng *rand.Rand) {
	plays := make([][][2]int, len(w.teams)) // by team: match and place
	for m, meeting := range w.meetings {
		for place, t := range meeting.slots {
			plays[t] = append(plays[t], [2]int{m, place})
		}
	}
	for t, at := range plays {
		if rng.Float64() >= w.opt.Altered || len(at) < 2*alterEdge {
			continue
		}
		from := alterEdge + rng.IntN(len(at)-2*alterEdge+1)
		a := Alteration{Team: w.teams[t].ID, Match: w.schedule[at[from][0]].ID, Kind: Alterations()[rng.IntN(3)]}
		pick, dead := w.mechanism(rng, &w.robots[t])
		if dead == nil {
			a.Kind = Slower
		}
		if a.Kind == Slower {
			a.Pace = slowest + (hardly-slowest)*rng.Float64()
		} else {
			a.Action = w.course.acts[pick].ID
		}
		for n, p := range at {
			c := &w.conditions[p[0]][p[1]]
			switch {
			case a.Kind == Slower && n >= from:
				c.pace *= a.Pace
			case a.Kind == Repaired && n < from, a.Kind == Broken && n >= from:
				c.dead = dead
			}
		}
		w.altered = append(w.altered, a)
	}
}

// mechanism picks something that a robot can do in the longest period or at the
// end, with all that has the same name; nil: it can do nothing.
func (w *World) mechanism(rng *rand.Rand, r *robot) (pick int, dead []bool) {
	c := w.course
	var able []int
	for k := range c.acts {
		a := &c.acts[k]
		if a.ByAlliance() {
			continue
		}
		if a.trip() && r.trips[k].able && a.span.seconds() > c.main.seconds()/2 ||
			a.Kind == game.Choice && len(a.ladder) > 0 && r.climbs[k].rung > 0 {
			able = append(able, k)
		}
	}
	if len(able) == 0 {
		return 0, nil
	}
	pick = able[rng.IntN(len(able))]
	dead = make([]bool, len(c.acts))
	for k := range c.acts {
		dead[k] = k == pick || c.acts[k].Name != "" && c.acts[k].Name == c.acts[pick].Name && c.acts[k].trip()
	}
	return pick, dead
}

// out reports whether the mechanism for an act does not work.
func (c *condition) out(act int) bool { return c.dead != nil && c.dead[act] }

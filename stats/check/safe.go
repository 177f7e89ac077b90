package check

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/record"
)

// Safe says how many of the robots that will be picked can be picked from by
// their estimates, and which cannot yet.
type Safe struct {
	// First is how many robots will play the playoff, the best by what to expect
	// next; of a game without a selection, all. 0: nothing is known of any robot.
	First int `json:"first"`
	// Unsafe are those among them, or that may belong among them, whose records
	// are too doubtful or too few; best first.
	Unsafe []Unsafe `json:"unsafe" nullable:"false"`
}

// Unsafe is a robot whose estimate should not be trusted yet.
type Unsafe struct {
	Team   record.TeamID `json:"team"`
	Rank   int           `json:"rank"`   // by what to expect next, from 1
	Reason string        `json:"reason"` // a short sentence for people
	Shift  float64       `json:"shift"`  // by how many points doubts may move it, either way
}

// What makes a robot unsafe; common practice, no source.
const (
	fewRecords = 3   // fewer matches watched say little
	halfSD     = 0.5 // doubts that move it by so much of its standard deviation
)

// safe judges the robots that will be picked from.
func (t *table) safe(fit *contrib.Fit, suspects []Suspect) Safe {
	out := Safe{Unsafe: []Unsafe{}}
	if fit == nil {
		return out
	}
	rec := fit.Record()
	teams := rec.Teams
	slices.SortStableFunc(teams, func(a, b record.TeamEstimate) int {
		return cmp.Or(cmp.Compare(b.Now, a.Now), record.CompareTeams(a.Team, b.Team))
	})
	out.First = len(teams)
	if s := t.g.Selection; s != nil && s.Alliances > 0 {
		out.First = min(out.First, s.Alliances*(1+s.Picks+s.Backups))
	}
	if out.First == 0 {
		return out
	}
	// What doubts may move, and the one that moves most. A robot that nobody
	// watched is no doubt: its standard deviation says so already.
	moves := map[record.TeamID]float64{}
	worst := map[record.TeamID]*Suspect{}
	most := map[record.TeamID]float64{}
	add := func(team record.TeamID, cost float64, s *Suspect) {
		moves[team] += cost
		if worst[team] == nil || cost > most[team] {
			worst[team], most[team] = s, cost
		}
	}
	for i := range suspects {
		s := &suspects[i]
		if s.Kind == Missing || s.Kind == UnknownTeam {
			continue
		}
		add(s.Most, s.Cost(), s)
		if s.Also != nil {
			add(s.Also.Team, s.Probability*math.Abs(s.Also.Shift), s)
		}
	}
	last := teams[out.First-1].Now
	for i := range teams {
		r := &teams[i]
		if i >= out.First && r.Now+moves[r.Team] < last {
			continue // not even then among them
		}
		u := Unsafe{Team: r.Team, Rank: i + 1, Shift: moves[r.Team]}
		switch {
		case moves[r.Team] >= halfSD*r.SD && moves[r.Team] > 0:
			u.Reason = fmt.Sprintf("%s: %s", worst[r.Team].Match, worst[r.Team].Reason)
		case i < out.First && r.Watched < fewRecords:
			u.Reason = fmt.Sprintf("Watched in %d of its matches.", r.Watched)
			if r.Watched == 0 {
				u.Reason = "Nobody has watched it yet."
			}
		default:
			continue
		}
		out.Unsafe = append(out.Unsafe, u)
	}
	return out
}

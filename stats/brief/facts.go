package brief

import (
	"cmp"
	"math"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/record"
)

// Robot is what matters of one robot.
type Robot struct {
	Team       record.TeamID `json:"team"`
	Watched    int           `json:"watched"` // matches with at least one scout's record
	Now        float64       `json:"now"`     // points to expect of it
	NowSD      float64       `json:"now_sd"`
	Best       []Deed        `json:"best" nullable:"false"`       // after the first period, most points first, at most three
	Autonomous []Deed        `json:"autonomous" nullable:"false"` // in the first period
	Starts     []Start       `json:"starts" nullable:"false"`     // most often first
	Stops      float64       `json:"stops"`                       // share of its matches with 20 s or more stopped, or absent
	Defence    *Defence      `json:"defence,omitempty"`           // nil: the game does not ask, or nobody watched
}

// Deed is what a robot does in a match: of an action, or of an option of a choice.
type Deed struct {
	Action   string           `json:"action"`
	Option   string           `json:"option,omitempty"`
	Mean     float64          `json:"mean"` // units; of a flag and an option: a share of matches
	Low      float64          `json:"low"`  // 80 % interval of what is not known of the mean
	High     float64          `json:"high"`
	Points   float64          `json:"points"` // what that is worth, before caps
	Accuracy *record.Accuracy `json:"accuracy,omitempty"`
}

// Start is how often a robot was seen to start at a place.
type Start struct {
	Place string  `json:"place"` // option of the question about it
	Share float64 `json:"share"`
	Seen  int     `json:"seen"` // matches
}

// Defence is how much a robot was seen to defend.
type Defence struct {
	Seen    int     `json:"seen"`    // matches in which somebody watched for it
	Matches int     `json:"matches"` // of those: with ten seconds or more
	Seconds float64 `json:"seconds"` // mean of those
}

// Clash is where partners get into each other's way.
type Clash struct {
	Kind  string          `json:"kind"` // "start": the same place; "cap": together more than is credited
	Teams []record.TeamID `json:"teams" nullable:"false"`
	// Of a start: the place, how likely both take it, and places that none of ours takes most often.
	Place  string   `json:"place,omitempty"`
	Chance float64  `json:"chance,omitempty"`
	Free   []string `json:"free,omitempty"`
	// Of a cap: the action and option, or several actions, and how many units count of those expected.
	Actions  []string `json:"actions,omitempty"`
	Option   string   `json:"option,omitempty"`
	Max      float64  `json:"max,omitempty"`
	Expected float64  `json:"expected,omitempty"`
}

const (
	z90      = 1.2815515655446004 // Φ⁻¹(0.9)
	mostBest = 3
	// defended: fewer seconds are a brush in passing.
	defended = 10
	// likely: partners that both start at a place less often than this do not clash.
	likely = 0.2
	// over is by how many units expected must exceed a cap to be worth a word.
	over = 0.5
)

// facts looks robots up.
type facts struct {
	ev       *record.Event
	f        *contrib.Fit
	estimate record.Estimate
	first    string // id of the first period; empty: there is only one
}

func newFacts(f *contrib.Fit, ev *record.Event) *facts {
	x := &facts{ev: ev, f: f, estimate: f.Record()}
	var top []string
	for _, p := range ev.Game.Periods {
		if p.Within == "" {
			top = append(top, p.ID)
		}
	}
	if len(top) > 1 {
		x.first = top[0]
	}
	return x
}

func (x *facts) robots(teams []record.TeamID) []Robot {
	out := []Robot{}
	for _, t := range teams {
		out = append(out, x.robot(t))
	}
	return out
}

func (x *facts) robot(t record.TeamID) Robot {
	r := Robot{Team: t, Best: []Deed{}, Autonomous: []Deed{}}
	if i, ok := x.f.Index(t); ok {
		est := &x.estimate.Teams[i]
		r.Watched, r.Now, r.NowSD, r.Stops = est.Watched, est.Now, est.NowSD, est.Stops
		for k := range x.ev.Game.Actions {
			a := &x.ev.Game.Actions[k]
			for _, d := range deeds(a, est) {
				switch {
				case x.first != "" && a.Period == x.first:
					r.Autonomous = append(r.Autonomous, d)
				case d.Points > 0:
					r.Best = append(r.Best, d)
				}
			}
		}
	}
	slices.SortStableFunc(r.Best, func(a, b Deed) int { return cmp.Compare(b.Points, a.Points) })
	r.Best = r.Best[:min(len(r.Best), mostBest)]
	r.Starts = x.starts(t)
	r.Defence = x.defence(t)
	return r
}

// deeds are what is known of an action; of a choice, of every option better
// than the least.
func deeds(a *game.Action, est *record.TeamEstimate) []Deed {
	one := func(key, option string, points, most float64) []Deed {
		e, ok := est.Actions[key]
		if !ok {
			return nil
		}
		mean := math.Max(0, e.Mean)
		return []Deed{{
			Action: a.ID, Option: option, Mean: mean, Accuracy: e.Accuracy, Points: mean * points,
			Low: math.Max(0, e.Mean-z90*e.SD), High: math.Min(most, e.Mean+z90*e.SD),
		}}
	}
	switch a.Kind {
	case game.Choice:
		least := math.Inf(1)
		for _, o := range a.Options {
			least = math.Min(least, o.Points)
		}
		var out []Deed
		for _, o := range a.Options {
			if o.Points > least {
				out = append(out, one(a.ID+":"+o.ID, o.ID, o.Points, 1)...)
			}
		}
		return out
	case game.Flag:
		return one(a.ID, "", a.Points, 1)
	}
	return one(a.ID, "", a.Points, math.Inf(1))
}

// perMatch hands each counted record of a robot to see, the first that answers
// of each match and play.
func (x *facts) perMatch(t record.TeamID, see func(*record.Observation) bool) {
	type key struct {
		match record.MatchID
		play  int
	}
	done := map[key]bool{}
	for i := range x.ev.Observations {
		o := &x.ev.Observations[i]
		k := key{o.Match, max(1, o.Play)}
		if o.Team == t && !o.Discarded && !o.Absent && !done[k] {
			done[k] = see(o)
		}
	}
}

func (x *facts) starts(t record.TeamID) []Start {
	out := []Start{}
	q, ok := x.ev.Game.QuestionByRole(game.RoleStartPosition)
	if !ok {
		return out
	}
	seen, all := map[string]int{}, 0
	x.perMatch(t, func(o *record.Observation) bool {
		place := o.Answers[q.ID].Text
		if place == nil || *place == "" {
			return false
		}
		seen[*place]++
		all++
		return true
	})
	for place, n := range seen {
		out = append(out, Start{Place: place, Seen: n, Share: float64(n) / float64(all)})
	}
	slices.SortFunc(out, func(a, b Start) int { return cmp.Or(b.Seen-a.Seen, cmp.Compare(a.Place, b.Place)) })
	return out
}

func (x *facts) defence(t record.TeamID) *Defence {
	q, ok := x.ev.Game.QuestionByRole(game.RoleDefendingSeconds)
	if !ok {
		return nil
	}
	var d Defence
	x.perMatch(t, func(o *record.Observation) bool {
		s := o.Answers[q.ID].Number
		if s == nil {
			return false
		}
		d.Seen++
		if *s >= defended {
			d.Matches++
			d.Seconds += *s
		}
		return true
	})
	if d.Seen == 0 {
		return nil
	}
	if d.Matches > 0 {
		d.Seconds /= float64(d.Matches)
	}
	return &d
}

// clashes of partners: starts first, then what caps do not credit.
func (x *facts) clashes(ours []record.TeamID) []Clash {
	out := []Clash{}
	starts := make([][]Start, len(ours))
	for k, t := range ours {
		starts[k] = x.starts(t)
	}
	for i := range ours {
		for k := range i {
			if c, ok := meet(ours[k], ours[i], starts[k], starts[i]); ok {
				c.Free = x.free(starts)
				out = append(out, c)
			}
		}
	}
	return append(out, x.caps(ours)...)
}

// meet is the place that two robots most likely both start at.
func meet(a, b record.TeamID, startsA, startsB []Start) (Clash, bool) {
	c := Clash{Kind: "start", Teams: []record.TeamID{a, b}}
	for _, s := range startsA {
		for _, u := range startsB {
			if s.Place == u.Place && s.Share*u.Share > c.Chance {
				c.Place, c.Chance = s.Place, s.Share*u.Share
			}
		}
	}
	return c, c.Chance >= likely
}

// free are the places that none of ours takes most often.
func (x *facts) free(starts [][]Start) []string {
	q, _ := x.ev.Game.QuestionByRole(game.RoleStartPosition)
	return slices.DeleteFunc(slices.Clone(q.Options), func(place string) bool {
		return slices.ContainsFunc(starts, func(s []Start) bool { return len(s) > 0 && s[0].Place == place })
	})
}

// caps are the caps and limits of an alliance that our robots are expected to
// go over together.
func (x *facts) caps(ours []record.TeamID) []Clash {
	var out []Clash
	add := func(actions []string, option string, most *float64) {
		if most == nil {
			return
		}
		c := Clash{Kind: "cap", Actions: actions, Option: option, Max: *most, Teams: []record.TeamID{}}
		for _, t := range ours {
			mine := 0.0
			if i, ok := x.f.Index(t); ok {
				for _, id := range actions {
					if option != "" {
						id += ":" + option
					}
					mine += math.Max(0, x.estimate.Teams[i].Actions[id].Mean)
				}
			}
			c.Expected += mine
			if mine >= 0.1 { // who hardly does it is in nobody's way
				c.Teams = append(c.Teams, t)
			}
		}
		if c.Expected > c.Max+over && len(c.Teams) > 1 {
			out = append(out, c)
		}
	}
	for _, a := range x.ev.Game.Actions {
		if a.ByAlliance() {
			continue
		}
		add([]string{a.ID}, "", a.AllianceMax)
		for _, o := range a.Options {
			add([]string{a.ID}, o.ID, o.AllianceMax)
		}
	}
	for _, l := range x.ev.Game.Limits {
		if l.Per == "alliance" {
			add(l.Count, "", &l.Max)
		}
	}
	return out
}

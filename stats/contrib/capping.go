package contrib

import (
	"math"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// capping tells how many points the caps and limits of the game took off what
// an alliance did, so that a total at a cap is not read as weak robots.
type capping struct {
	e      *evidence
	w      *worth
	scorer *game.Scorer
	any    bool
	shared bool // some limit is of both alliances together
}

func newCapping(e *evidence, w *worth) *capping {
	c := &capping{e: e, w: w, any: len(e.game.Limits) > 0}
	for i := range e.game.Actions {
		a := &e.game.Actions[i]
		c.any = c.any || a.AllianceMax != nil || slices.ContainsFunc(a.Options, func(o game.Option) bool { return o.AllianceMax != nil })
	}
	c.shared = slices.ContainsFunc(e.game.Limits, func(l game.Limit) bool { return l.Per == "match" })
	if c.any {
		c.scorer = game.NewScorer(e.game)
	}
	return c
}

// off is the points that caps took off side i, by what its scouts saw and, of
// robots that nobody watched, by what they are expected to do. 0 when half
// of the robots or more were not watched: then it is anybody's guess. A limit
// that both alliances share is used up by the opponents too.
func (c *capping) off(i int) float64 {
	if !c.any {
		return 0
	}
	s := &c.e.sides[i]
	did, watched := c.played(s)
	if 2*watched <= len(did.Robots) {
		return 0
	}
	var against game.Played
	if c.shared {
		// The sides of a match lie next to each other, red first.
		for _, j := range []int{i - 1, i + 1} {
			if j >= 0 && j < len(c.e.sides) && c.e.sides[j].match == s.match && c.e.sides[j].play == s.play {
				against, _ = c.played(&c.e.sides[j])
			}
		}
	}
	if !c.reaches(did.Robots, against.Robots) {
		return 0
	}
	var uncapped, credited float64
	scored, _ := c.scorer.Score(did, against)
	for k, r := range did.Robots {
		uncapped += c.e.game.RobotPoints(r)
		credited += scored.Robots[k]
	}
	for _, b := range c.e.game.Bonuses { // for_each points are the robots' own, but no cap takes them off here
		if b.ForEach != nil {
			credited -= scored.Credited[b.ID] * b.Points
		}
	}
	return math.Max(0, uncapped-credited)
}

// played is what the robots of a side that came did, and how many of them were watched.
func (c *capping) played(s *side) (did game.Played, watched int) {
	for k, r := range s.robots {
		if s.absent[k] {
			continue
		}
		robot, seen := c.robot(s, r)
		if seen {
			watched++
		}
		did.Robots = append(did.Robots, robot)
	}
	return did, watched
}

// reaches reports whether what robots did comes to more than some cap or limit
// allows. Most sides do not, and scoring costs more than this sum.
func (c *capping) reaches(robots, against []game.Robot) bool {
	count := func(robots []game.Robot, id string) (n float64) {
		for _, r := range robots {
			n += math.Max(0, r.Counts[id])
		}
		return n
	}
	for i := range c.e.game.Actions {
		a := &c.e.game.Actions[i]
		if a.AllianceMax != nil && count(robots, a.ID) > *a.AllianceMax {
			return true
		}
		for _, o := range a.Options {
			if o.AllianceMax == nil {
				continue
			}
			n := 0.0
			for _, r := range robots {
				if r.Choices[a.ID] == o.ID {
					n++
				}
			}
			if n > *o.AllianceMax {
				return true
			}
		}
	}
	for _, l := range c.e.game.Limits {
		n := 0.0
		for _, id := range l.Count {
			n += count(robots, id)
			if l.Per == "match" {
				n += count(against, id)
			}
		}
		if n > l.Max {
			return true
		}
	}
	return false
}

// robot is what a robot did in a match: the mean of what scouts saw, official
// values first, and expectation where a cell is empty.
func (c *capping) robot(s *side, r int) (game.Robot, bool) {
	out := game.Robot{Counts: map[string]float64{}, Choices: map[string]string{}}
	seen := false
	for _, v := range s.views {
		seen = seen || v.robot == r && (v.obs.Absent || c.e.complete(v.obs))
	}
	for i := range c.w.units {
		u := &c.w.units[i]
		var sum, n float64
		for _, v := range s.views {
			if v.robot != r || v.obs.Absent || !c.e.complete(v.obs) {
				continue
			}
			if u.action.Kind == game.Choice {
				if option := v.obs.Choices[u.action.ID].Option; option != "" {
					out.Choices[u.action.ID] = option
				}
			} else if t := v.obs.Counts[u.action.ID]; t.Made != nil {
				sum += *t.Made
				n++
			}
		}
		if value, ok := s.official[r][u.action.ID]; ok {
			if u.action.Kind == game.Choice {
				out.Choices[u.action.ID] = value
			} else if v, ok := officialNumber(value); ok {
				sum, n = v, 1
			}
		}
		if u.action.Kind == game.Choice {
			continue // the likeliest option is nobody's expectation: leave it out
		}
		if n > 0 {
			out.Counts[u.action.ID] = sum / n
		} else if !seen && u.points != 0 {
			out.Counts[u.action.ID] = u.mean[r] / u.points
		}
	}
	return out, seen
}

// merged is a record with the venue's own values in the place of the scout's.
func merged(o *record.Observation, official map[string]string, g *game.Game) *record.Observation {
	if len(official) == 0 {
		return o
	}
	out := *o
	out.Counts, out.Choices = map[string]record.Tally{}, map[string]record.Chosen{}
	for id, t := range o.Counts {
		out.Counts[id] = t
	}
	for id, c := range o.Choices {
		out.Choices[id] = c
	}
	for id, value := range official {
		a, ok := g.Action(id)
		if !ok || value == "" {
			continue
		}
		if a.Kind == game.Choice {
			c := out.Choices[id]
			c.Option = value
			out.Choices[id] = c
		} else if v, ok := officialNumber(value); ok {
			t := out.Counts[id]
			t.Made = &v
			out.Counts[id] = t
		}
	}
	return &out
}

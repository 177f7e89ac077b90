package brief

import (
	"sextant/stats/forecast"
	"sextant/stats/game"
	"sextant/stats/record"
)

// Reach is a ranking point beside those for winning and tying, and what it needs.
type Reach struct {
	ID      string   `json:"id"`
	Points  float64  `json:"points"`
	Chance  *float64 `json:"chance,omitempty"`  // as everybody plays now; nil: nobody saw what it asks for
	Planned *float64 `json:"planned,omitempty"` // with the plan
	Needs   []Need   `json:"needs" nullable:"false"`
	Any     bool     `json:"any"` // one of the needs is enough; else all are needed
	// WinWith and WinWithout are the chance to win in the draws in which it was
	// gained and was not; nil: too few draws to tell.
	WinWith    *float64 `json:"win_with,omitempty"`
	WinWithout *float64 `json:"win_without,omitempty"`
}

// Need is one condition of a ranking point. Exactly one of AtLeast, More and
// Both says what.
type Need struct {
	Group     int      `json:"group"`               // needs of one group are needed together
	Component string   `json:"component,omitempty"` // id
	AtLeast   *float64 `json:"at_least,omitempty"`
	More      bool     `json:"more,omitempty"`     // than the opponent
	Both      string   `json:"both,omitempty"`     // an alliance action that both alliances must do
	Expected  *float64 `json:"expected,omitempty"` // of the component, as everybody plays now; nil: nobody saw
	Theirs    *float64 `json:"theirs,omitempty"`   // of the opponent, where More
}

// fewest draws of a kind that a chance is told from.
const fewest = 100

func (p *planner) reach(best *assignment, now, planned *forecast.Detail) []Reach {
	g := p.e.Game()
	ours, theirs := &now.Red, &now.Blue
	if p.req.Ours == record.Blue {
		ours, theirs = theirs, ours
	}
	drawn := p.measure(p.lineups[best.lineup].assignments[0])
	out := []Reach{}
	for k := range g.RankingPoints {
		rp := &g.RankingPoints[k]
		if rp.When.Outcome != "" {
			continue
		}
		r := Reach{ID: rp.ID, Points: rp.Points, Needs: []Need{}, Any: len(rp.When.Any) > 0}
		r.Chance = chanceOf(now, p.req.Ours, rp.ID)
		r.Planned = chanceOf(planned, p.req.Ours, rp.ID)
		for group, c := range groups(&rp.When) {
			for _, leaf := range leaves(c) {
				r.Needs = append(r.Needs, need(g, group, leaf, ours, theirs))
			}
		}
		if r.Chance != nil {
			r.WinWith, r.WinWithout = split(drawn, k)
		}
		out = append(out, r)
	}
	return out
}

func chanceOf(d *forecast.Detail, c record.Colour, id string) *float64 {
	if v, ok := d.Forecast.RankingPoints[c][id]; ok {
		return &v
	}
	return nil
}

// groups are the alternatives of a condition, or the condition alone.
func groups(c *game.Condition) []*game.Condition {
	if len(c.Any) == 0 {
		return []*game.Condition{c}
	}
	var out []*game.Condition
	for i := range c.Any {
		out = append(out, &c.Any[i])
	}
	return out
}

func leaves(c *game.Condition) []*game.Condition {
	if len(c.All) == 0 && len(c.Any) == 0 {
		return []*game.Condition{c}
	}
	var out []*game.Condition
	for _, list := range [][]game.Condition{c.All, c.Any} {
		for i := range list {
			out = append(out, leaves(&list[i])...)
		}
	}
	return out
}

func need(g *game.Game, group int, c *game.Condition, ours, theirs *forecast.Distribution) Need {
	n := Need{Group: group, Component: c.Component, Both: c.Both, More: c.MoreThan != ""}
	if c.AtLeast != nil {
		v := g.Value(*c.AtLeast)
		n.AtLeast = &v
	}
	if v, ok := ours.Components[c.Component]; ok {
		n.Expected = &v
	}
	if v, ok := theirs.Components[c.Component]; ok && n.More {
		n.Theirs = &v
	}
	return n
}

// split is the chance to win with and without a ranking point.
func split(m *measured, point int) (with, without *float64) {
	var n, won [2]float64
	for k, gained := range m.gained {
		i := 0
		if gained[point] {
			i = 1
		}
		n[i]++
		won[i] += m.win[k]
	}
	share := func(i int) *float64 {
		if n[i] < fewest {
			return nil
		}
		v := won[i] / n[i]
		return &v
	}
	return share(1), share(0)
}

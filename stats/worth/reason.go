package worth

import (
	"fmt"
	"math"
	"strings"

	"sextant/stats/game"
	"sextant/stats/record"
)

// reasons says in pieces why a candidate is worth a call: what it does that our
// alliance can still use, what it cannot add, and whether it can wait.
func (e *Evaluation) reasons(place int, c *record.Candidate, a *record.Advice) []record.Reason {
	i := e.index[place]
	out := append([]record.Reason{}, e.adds(i)...)
	if len(out) == 0 || out[0].Kind == "full" {
		out = append(out, record.Reason{Kind: "points", Value: c.Points, Text: fmt.Sprintf("brings %.0f points a match", c.Points)})
	}
	if stops := 1 - e.m.fit.Exposure(i); stops > 0.12 {
		out = append(out, record.Reason{Kind: "stops", Value: stops, Text: fmt.Sprintf("loses %.0f %% of its time to stops", 100*stops)})
	}
	switch {
	case !a.OurTurn && c.HereNextTurn < 0.995 && a.Pick > 0:
		out = append(out, record.Reason{Kind: "gone", Value: c.HereNextTurn, Pick: a.Pick, Text: fmt.Sprintf("%s there when we choose at %d", share(c.HereNextTurn), a.Pick)})
	case a.OurTurn && a.NextPick > 0 && c.HereNextTurn < 0.5:
		out = append(out, record.Reason{Kind: "gone", Value: c.HereNextTurn, Pick: a.NextPick, Text: gone(c.HereNextTurn, a.NextPick)})
	case a.OurTurn && a.NextPick > 0:
		out = append(out, record.Reason{Kind: "stays", Value: c.HereNextTurn, Pick: a.NextPick, Text: fmt.Sprintf("%s still there at %d", share(c.HereNextTurn), a.NextPick)})
	}
	return out
}

func gone(p float64, pick int) string {
	if p < 0.005 {
		return fmt.Sprintf("will be gone by %d", pick)
	}
	return fmt.Sprintf("only %s still there at %d", share(p), pick)
}

// label is the name of an action, with its period where two have the same name.
func label(g *game.Game, k int) string {
	a := &g.Actions[k]
	for j := range g.Actions {
		if j == k || g.Actions[j].Label() != a.Label() {
			continue
		}
		if p, ok := g.Period(a.Period); ok {
			return a.Label() + " (" + p.Name + ")"
		}
	}
	return a.Label()
}

func share(p float64) string { return fmt.Sprintf("%.0f %%", 100*p) }

// adds is the action that robot i adds most points by beside the average robot,
// and the capped one that it is good at and that our alliance has no room for.
func (e *Evaluation) adds(i int) []record.Reason {
	if len(e.m.profiles) == 0 {
		return nil
	}
	g := e.m.g
	us := e.ourRobots()
	best, most := record.Reason{}, 1.0 // below a point a match it is not worth saying
	var full *record.Reason
	look := func(a *game.Action, id, name string, points float64, limit *float64, units func(robot int) float64) {
		mine := units(i)
		var others, average float64
		for _, r := range us {
			others += units(r)
		}
		for _, r := range e.index {
			average += units(r) / float64(len(e.index))
		}
		useful := mine
		if limit != nil {
			useful = min(mine, max(0, *limit-others))
			if mine*points > 2 && useful < mine/2 && full == nil {
				full = &record.Reason{Kind: "full", Action: id, Name: name, Nth: int(math.Round(others)) + 1,
					Text: fmt.Sprintf("its %s is not counted: ours reach the limit of %g", strings.ToLower(name), *limit)}
			}
		}
		gain := (useful - average) * points
		if gain <= most {
			return
		}
		most = gain
		if a.Kind == game.Choice && limit != nil {
			nth := int(math.Round(others)) + 1
			best = record.Reason{Kind: "adds", Action: id, Name: name, Nth: nth, Value: mine, Text: fmt.Sprintf("adds the %s robot %s", ordinal(nth), strings.ToLower(name))}
			return
		}
		best = record.Reason{Kind: "most", Action: id, Name: name, Value: mine, Text: fmt.Sprintf("%s: %.1f a match where the average is %.1f", name, mine, average)}
	}
	for k := range g.Actions {
		a := &g.Actions[k]
		switch {
		case a.ByAlliance():
		case a.Kind != game.Choice:
			look(a, a.ID, label(g, k), a.Points, a.AllianceMax, func(r int) float64 { return e.m.profiles[r].Units[k] })
		default:
			for o := range a.Options {
				option := &a.Options[o]
				name := option.Name
				if name == "" {
					name = option.ID
				}
				look(a, a.ID+":"+option.ID, name, option.Points, option.AllianceMax, func(r int) float64 { return e.m.profiles[r].Options[k][o] })
			}
		}
	}
	var out []record.Reason
	if best.Kind != "" {
		out = append(out, best)
	}
	if full != nil {
		out = append(out, *full)
	}
	return out
}

// ourRobots are those of our alliance as it stands.
func (e *Evaluation) ourRobots() []int {
	out := []int{}
	if a := e.board.Joined(e.us); a >= 0 {
		for _, p := range e.board.Members(a) {
			out = append(out, e.index[p])
		}
		return out
	}
	return append(out, e.index[e.us])
}

func ordinal(n int) string {
	switch n {
	case 1:
		return "first"
	case 2:
		return "second"
	case 3:
		return "third"
	}
	return fmt.Sprintf("%dth", n)
}

// sentence joins the pieces.
func sentence(pieces []record.Reason) string {
	texts := make([]string, len(pieces))
	for k, p := range pieces {
		texts[k] = p.Text
	}
	return strings.Join(texts, "; ")
}

package generate

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"sextant/stats/game"
)

// course is a game file as the simulated robots see it: which deed is possible
// when, how long it takes, what it brings. Ids stay data.
type course struct {
	g      *game.Game
	end    float64 // seconds from the start to the end of the match, pauses included
	main   span    // the longest period
	acts   []act   // in the order of the game file
	limits []limit
}

// span is a stretch of match time in seconds.
type span struct{ from, to float64 }

func (s span) seconds() float64 { return s.to - s.from }

// act is one action of the game.
type act struct {
	*game.Action
	span            // when it can be done
	load    float64 // pieces one trip brings
	seconds float64 // a trip by a middling robot
	value   float64 // points of one trip that succeeds
	ladder  []int   // options of a choice, least points first
	helps   int     // index of the action that it makes possible, or −1
	limits  []int   // the limits it counts towards
}

// limit is a shared cap; its pieces run out.
type limit struct {
	max      float64
	perMatch bool
}

// trip says whether robots repeat the act in cycles.
func (a *act) trip() bool {
	return !a.ByAlliance() && (a.Kind == game.Count || a.Kind == game.Volume)
}

// Plausible times of a trip: a seventh of the period, within these bounds.
const (
	tripShare    = 7.0
	tripShortest = 5.5  // s
	tripLongest  = 18.0 // s
)

func newCourse(g *game.Game) (*course, error) {
	c := &course{g: g}
	spans := periods(g)
	for _, p := range g.Periods {
		s := spans[p.ID]
		c.end = max(c.end, s.to)
		if s.seconds() > c.main.seconds() {
			c.main = s
		}
	}
	if c.end <= 0 {
		return nil, errors.New("the game has no period with a length, so nothing can be played")
	}
	for _, l := range g.Limits {
		c.limits = append(c.limits, limit{l.Max, l.Per == "match"})
	}
	index := map[string]int{}
	for i := range g.Actions {
		a := act{Action: &g.Actions[i], span: c.main, load: 1, helps: -1}
		if a.Period != "" {
			a.span = spans[a.Period]
		}
		if a.Kind == game.Volume {
			a.load = 5
			if n := len(a.Steps); n > 0 {
				a.load = float64(a.Steps[n/2])
			}
		}
		a.value = a.Points * a.load
		for o := range a.Options {
			a.ladder = append(a.ladder, o)
		}
		slices.SortStableFunc(a.ladder, func(x, y int) int { return cmp.Compare(a.Options[x].Points, a.Options[y].Points) })
		for l, lim := range g.Limits {
			if slices.Contains(lim.Count, a.ID) {
				a.limits = append(a.limits, l)
			}
		}
		index[a.ID] = i
		c.acts = append(c.acts, a)
	}
	for i := range c.acts {
		a := &c.acts[i]
		if at, ok := index[a.Helps]; ok {
			a.helps = at
		}
		// Who makes a game pays more for what takes longer.
		worth := math.Sqrt(max(a.value, 0.25) / c.middling(a.Period))
		a.seconds = min(max(a.span.seconds()/tripShare, tripShortest), tripLongest) * min(max(worth, 0.6), 1.6)
	}
	return c, nil
}

// middling is the median value of the trips of a period; 1 if none has any.
func (c *course) middling(period string) float64 {
	var values []float64
	for i := range c.acts {
		if a := &c.acts[i]; a.trip() && a.Period == period && a.value > 0 {
			values = append(values, a.value)
		}
	}
	if len(values) == 0 {
		return 1
	}
	slices.Sort(values)
	return values[len(values)/2]
}

// periods lays the periods out in time: one after the other with their pauses,
// those within another at its end.
func periods(g *game.Game) map[string]span {
	spans := map[string]span{}
	now := 0.0
	for _, p := range g.Periods {
		if p.Within != "" {
			continue
		}
		spans[p.ID] = span{now, now + p.Seconds}
		now += p.Seconds + p.PauseAfter
	}
	for range g.Periods { // a period within a period within a period is legal
		for _, p := range g.Periods {
			if around, ok := spans[p.Within]; ok && p.Within != "" {
				spans[p.ID] = span{max(around.from, around.to-p.Seconds), around.to}
			}
		}
	}
	return spans
}

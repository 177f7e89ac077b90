package check

import (
	"math"
	"math/rand/v2"
	"testing"

	"sextant/stats/game"
	"sextant/stats/generate"
)

// What is expected of a robot in a match does not hang on its record there, nor
// on what was asked before; in its other matches it does.
func TestExpectedLeavesOwnRowOut(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam, opt.Mistakes, opt.Watched, opt.Double = 18, 8, 0, 1, 0
	w, err := generate.New(g, rand.New(rand.NewPCG(4, 4)), opt)
	if err != nil {
		t.Fatal(err)
	}
	x := newTable(w.Event(w.Matches()), Options{})
	var r *row
	for _, r = range x.rows {
		if r.usable() && r.play > 3 {
			break
		}
	}
	const deck = 3 // a count
	if c := x.cells[deck]; c.kind != countCell || c.missed {
		t.Fatalf("cell %d is %+v", deck, c)
	}
	fresh := func() *profiles { p := *x.profiles; p.cache = map[[2]int]*expected{}; return &p }
	here := x.profiles.of(r.robot, r.play).rate[deck]
	for i := range x.plays { // asking changes nothing
		fresh().of(r.robot, i)
	}
	if got := fresh().of(r.robot, r.play).rate[deck]; math.Abs(got-here) > 1e-9 {
		t.Errorf("%v, asked again %v", here, got)
	}
	elsewhere := x.profiles.of(r.robot, -1).rate[deck]
	x.profiles.add(r.play, r.seat, -1)
	r.vals[deck] += 10
	x.profiles.add(r.play, r.seat, 1)
	if got := fresh().of(r.robot, r.play).rate[deck]; math.Abs(got-here) > 1e-9 {
		t.Errorf("ten more in the row of the match: %v, was %v", got, here)
	}
	if got := fresh().of(r.robot, -1).rate[deck]; got < elsewhere+0.5 {
		t.Errorf("ten more in one row: %v over all, was %v", got, elsewhere)
	}
}

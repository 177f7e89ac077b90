package study

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"sextant/stats/check"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// Of what is found by who knows the robots' true means, most is found without
// knowing them, and probabilities are about as often right as they say. The
// table of stats/check.md is made from other seeds and more of them.
func TestCheckFindsMostOfCeiling(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	r, err := Check(g, CheckOptions{Seeds: 3, First: 3100, Events: generate.Defaults(), TruthRuns: 20, FalseAlarms: 0.05})
	if err != nil {
		t.Fatal(err)
	}
	var made, found, ceiling float64
	for _, x := range r.Rows {
		if x.Faults == 0 || x.Found < 0 || x.Found > 1 || x.Named > x.Found || x.Precision > 1 {
			t.Errorf("%+v", x)
		}
		if x.Kind != check.Missing && x.Kind != check.UnknownTeam { // these are facts
			n := float64(x.Faults)
			made, found, ceiling = made+n, found+n*x.Found, ceiling+n*x.Ceiling
		}
	}
	if found < 0.85*ceiling || found < 0.6*made {
		t.Errorf("%.0f of %.0f found, %.0f by who knows the means", found, made, ceiling)
	}
	var off, n float64
	for _, b := range r.Bins {
		off += float64(b.Suspects) * math.Abs(b.Said-b.Named)
		n += float64(b.Suspects)
	}
	if n < 50 || off > 0.08*n {
		t.Errorf("probabilities are %.2f off, over %.0f suspects", off/n, n)
	}
}

// What spoil says is wrong is wrong, and nothing else was touched.
func TestSpoilTellsWhatItDid(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Mistakes, opt.Watched, opt.Double = 0, 1, 0
	w, err := generate.New(g, rand.New(rand.NewPCG(3200, 0)), opt)
	if err != nil {
		t.Fatal(err)
	}
	before, after := w.Event(w.Matches()), w.Event(w.Matches())
	wrong := spoil(rand.New(rand.NewPCG(1, 1)), after, nil)
	kinds := map[check.Kind]int{}
	told := map[record.MatchID]map[record.TeamID]bool{}
	for _, m := range wrong {
		kinds[m.kind]++
		if told[m.match] == nil {
			told[m.match] = map[record.TeamID]bool{}
		}
		for _, team := range m.teams {
			told[m.match][team] = true
		}
	}
	for _, kind := range []check.Kind{check.Swap, check.WrongRobot, check.Stuck, check.Outlier, check.Absent, check.UnknownTeam} {
		if kinds[kind] == 0 {
			t.Errorf("no %s", kind)
		}
	}
	for i := range before.Observations {
		a, b := &before.Observations[i], &after.Observations[i]
		if !reflect.DeepEqual(a, b) && !told[a.Match][a.Team] {
			t.Errorf("%s in %s was changed and not told", a.Team, a.Match)
		}
	}
}

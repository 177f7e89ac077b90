package simulate

import (
	"math"
	"testing"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// unwatched is an invented event that nobody watched, and how many matches of
// it are known.
func unwatched(t *testing.T, seed uint64) (all, known *record.Event) {
	t.Helper()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam, opt.Watched, opt.Scouts = 30, 10, 0, 0
	w, err := generate.New(g, source(seed), opt)
	if err != nil {
		t.Fatal(err)
	}
	return w.Event(w.Matches()), w.Event(w.Matches() / 2)
}

func estimate(t *testing.T, ev *record.Event) (*Engine, *contrib.Fit) {
	t.Helper()
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return New(fit), fit
}

// With results alone, official components tell of ranking points: better than
// how often alliances got them so far.
func TestRankingPointsFromResults(t *testing.T) {
	t.Parallel()
	brier, base := map[string]float64{}, map[string]float64{}
	for seed := range uint64(4) {
		all, known := unwatched(t, seed+1)
		e, fit := estimate(t, known)
		for id, when := range map[string]struct {
			component string
			least     float64
		}{"laden": {"barrels", 20}, "berth": {"finish", 14}} {
			got := func(m *record.Match, c record.Colour) float64 {
				if m.Side(c).Result.Components[when.component] >= when.least {
					return 1
				}
				return 0
			}
			var rate float64
			for k := range known.Matches {
				if known.Matches[k].Played() {
					rate += got(&all.Matches[k], record.Red) + got(&all.Matches[k], record.Blue)
				}
			}
			n := len(all.Matches) / 2
			rate /= float64(2 * n)
			for k := n; k < len(all.Matches); k++ {
				m := &all.Matches[k]
				s := e.Forecast(source(uint64(k)), index(t, fit, m.Red.Teams), index(t, fit, m.Blue.Teams), 300)
				for c, p := range map[record.Colour]float64{record.Red: s.Red.RankingPoints[id], record.Blue: s.Blue.RankingPoints[id]} {
					brier[id] += (p - got(m, c)) * (p - got(m, c))
					base[id] += (rate - got(m, c)) * (rate - got(m, c))
				}
			}
		}
	}
	for id := range brier {
		t.Logf("%s: Brier score %.3f of that of the base rate", id, brier[id]/base[id])
		if brier[id] >= base[id] {
			t.Errorf("%s: Brier score %.2f, base rate %.2f", id, brier[id], base[id])
		}
	}
}

// Without records and without official components only the outcome's points
// are told, and the others are never gained.
func TestNoRecordsNoComponents(t *testing.T) {
	t.Parallel()
	_, known := unwatched(t, 7)
	for i := range known.Matches {
		for _, c := range []record.Colour{record.Red, record.Blue} {
			if r := known.Matches[i].Side(c).Result; r != nil {
				r.Components = nil
			}
		}
	}
	e, _ := estimate(t, known)
	got := e.Forecast(source(1), []int{0, 1, 2}, []int{3, 4, 5}, 100).Red
	if _, ok := got.RankingPoints["laden"]; ok || len(got.Components) > 0 {
		t.Errorf("ranking points %v, components %v: nothing is known of them", got.RankingPoints, got.Components)
	}
	if p, ok := got.RankingPoints["win"]; !ok || p <= 0 || p >= 1 {
		t.Errorf("chance to win %v", p)
	}
	r := e.NewRun(source(2))
	for range 200 {
		r.DrawWorld()
		for _, s := range r.Play(&Lineup{Robots: []int{0, 1, 2}}, &Lineup{Robots: []int{3, 4, 5}}).Sides {
			if s.Ranking > 2 || s.RankingPoints[2] || s.RankingPoints[3] {
				t.Fatalf("ranking points %v, %v in all, of what is not known", s.RankingPoints, s.Ranking)
			}
		}
	}
}

// What a component can be is what its parts divide into.
func TestGrain(t *testing.T) {
	t.Parallel()
	g := &game.Game{
		Actions: []game.Action{
			{ID: "a", Kind: game.Count, Points: 6}, {ID: "b", Kind: game.Count, Points: 4},
			{ID: "c", Kind: game.Choice, Options: []game.Option{{ID: "x"}, {ID: "y", Points: 10}}},
			{ID: "half", Kind: game.Volume, Points: 0.5}, {ID: "nothing", Kind: game.Count},
		},
		Bonuses: []game.Bonus{{ID: "row", Points: 5}},
	}
	for _, c := range []struct {
		sum, count []string
		want       float64
	}{
		{sum: []string{"a", "b"}, want: 2}, {sum: []string{"a", "c"}, want: 2}, {sum: []string{"c", "row"}, want: 5},
		{sum: []string{"a", "half"}, want: 0.5}, {sum: []string{"nothing"}, want: 0}, {count: []string{"a"}, want: 1},
	} {
		if got := grain(g, &game.Component{Sum: c.sum, Count: c.count}); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%v %v: grain %v, want %v", c.sum, c.count, got, c.want)
		}
	}
}

// The luck of a robot's actions is the log-normal law that math.Exp gives.
func TestSpreadOut(t *testing.T) {
	t.Parallel()
	for z := -6.0; z <= 6; z += 0.01 {
		if want := math.Exp(actionSpread * z); math.Abs(spreadOut(z)/want-1) > 1e-4 {
			t.Fatalf("spreadOut(%v) = %v, want %v", z, spreadOut(z), want)
		}
	}
}

package forecast_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sextant/stats/contrib"
	"sextant/stats/forecast"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// playoffs is an invented event and n playoff matches after it, in which every
// alliance scores 1 + shift times what it would else. Nobody watches them.
func playoffs(t *testing.T, seed uint64, n int, shift float64) *record.Event {
	t.Helper()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam = 24, 8
	rng := rand.New(rand.NewPCG(seed, 9))
	w, err := generate.New(g, rng, opt)
	if err != nil {
		t.Fatal(err)
	}
	ev := w.Event(w.Matches())
	for k := range n {
		var ids []record.TeamID
		for _, i := range rng.Perm(len(ev.Teams))[:6] {
			ids = append(ids, ev.Teams[i].ID)
		}
		red, blue, err := w.Exhibition(rng, ids[:3], ids[3:])
		if err != nil {
			t.Fatal(err)
		}
		m := record.Match{ID: record.MatchID{Stage: record.PlayoffStage, Number: k + 1}, Play: 1, Red: record.Alliance{Teams: ids[:3]}, Blue: record.Alliance{Teams: ids[3:]}}
		for side, got := range []game.Scored{red, blue} {
			fouls := got.FromFouls
			m.Side([]record.Colour{record.Red, record.Blue}[side]).Result = &record.Result{
				Score: math.Round((got.Points-fouls)*(1+shift)) + fouls, FromFouls: &fouls,
			}
		}
		ev.Matches = append(ev.Matches, m)
	}
	return ev
}

func estimate(t *testing.T, ev *record.Event, opt contrib.Options) *contrib.Fit {
	t.Helper()
	fit, err := contrib.Estimate(ev, opt)
	if err != nil {
		t.Fatal(err)
	}
	return fit
}

// A shift that is known is found, the better the more matches there were, and
// drawn towards none after one. The luck of the invented matches is the same
// with and without it, so what is compared is the difference that it makes.
func TestShiftIsLearned(t *testing.T) {
	t.Parallel()
	const seeds = 4
	counts := []int{1, 16, 64}
	// learned is the mean of λ over the seeds after so many matches.
	learned := func(truth float64) []float64 {
		out := make([]float64, len(counts))
		for seed := range uint64(seeds) {
			ev := playoffs(t, 70+seed, counts[len(counts)-1], truth)
			q := len(ev.Matches) - counts[len(counts)-1]
			part := *ev
			part.Matches = ev.Matches[:q]
			plain := estimate(t, &part, contrib.Options{})
			if mean, sd := plain.Shift(); mean != 0 || math.Abs(sd-0.1) > 1e-9 {
				t.Errorf("before the playoffs: %v ± %v, want the prior 0 ± 0.1", mean, sd)
			}
			noise := plain.Components()
			last := 0.1
			for k, n := range counts {
				part.Matches = ev.Matches[:q+n]
				mean, sd := estimate(t, &part, contrib.Options{Components: &noise}).Shift()
				if sd >= last || math.Abs(mean-truth) > 4*sd {
					t.Errorf("seed %d, truth %v: %.3f ± %.3f after %d matches, ± %.3f before", seed, truth, mean, sd, n, last)
				}
				out[k] += mean / seeds
				last = sd
			}
		}
		return out
	}
	none := learned(0)
	for _, truth := range []float64{-0.2, 0.15} {
		got := learned(truth)
		share := make([]float64, len(counts))
		for k := range got {
			share[k] = (got[k] - none[k]) / truth
		}
		t.Logf("truth %v: %.3f of it after %v matches; none: %.3f", truth, share, counts, none)
		// The prior, and robots that may have changed meanwhile, take some of it for good.
		if !(share[0] > 0.05 && share[0] < 0.5 && share[1] > 0.55 && share[1] < 1.05 && share[2] > 0.6 && share[2] < 1.05) {
			t.Errorf("truth %v: %.3f of it after %v matches", truth, share, counts)
		}
	}
}

// What playoffs are like moves no forecast of a qualification match, and that of
// a playoff match by the shift.
func TestShiftIsOfPlayoffsAlone(t *testing.T) {
	t.Parallel()
	const matches, truth = 16, -0.25
	ev := playoffs(t, 75, matches, truth)
	before := *ev
	before.Matches = slices.Clone(ev.Matches[:len(ev.Matches)-matches])
	plain := estimate(t, &before, contrib.Options{})
	noise := plain.Components()
	after := estimate(t, ev, contrib.Options{Components: &noise})
	// The same matches as if they were qualification matches: all robots look weaker.
	mixed := *ev
	mixed.Matches = slices.Clone(ev.Matches)
	for i := range mixed.Matches[len(before.Matches):] {
		m := &mixed.Matches[len(before.Matches)+i]
		m.ID = record.MatchID{Stage: record.Qualification, Number: 1000 + i}
	}
	taken := estimate(t, &mixed, contrib.Options{Components: &noise})
	var was, is, wrong float64
	for i := range plain.Teams() {
		was, is, wrong = was+plain.Mean(i), is+after.Mean(i), wrong+taken.Mean(i)
	}
	if off := math.Abs(is/was - 1); off > 0.05 || off > 0.5*math.Abs(wrong/was-1) {
		t.Errorf("robots add %.1f together before the playoffs, %.1f after; without a shift %.1f", was, is, wrong)
	}

	line := ev.Matches[len(ev.Matches)-1]
	of := func(stage record.Stage) (closed, drawn record.Forecast) {
		m := line
		m.ID = record.MatchID{Stage: stage, Number: 40}
		closed, err := forecast.Match(after, &m)
		if err != nil {
			t.Fatal(err)
		}
		if drawn, err = forecast.Drawn(simulate.New(after), after, &m, forecast.Source(record.MatchID{Stage: record.Qualification, Number: 40}), 4000); err != nil {
			t.Fatal(err)
		}
		return closed, drawn
	}
	q, qDrawn := of(record.Qualification)
	p, pDrawn := of(record.PlayoffStage)
	f, _ := of(record.Final)
	shift, _ := after.Shift()
	fouls, _ := after.Fouls()
	rest := after.Rest(3)
	if want := (q.Red.Mean-fouls-rest)*(1+shift) + fouls + rest; math.Abs(p.Red.Mean-want) > 1e-9 || f.Red != p.Red {
		t.Errorf("a playoff match: %.2f, a final %.2f; want %.2f of %.2f in qualification", p.Red.Mean, f.Red.Mean, want, q.Red.Mean)
	}
	if got, want := pDrawn.Red.Mean-qDrawn.Red.Mean, p.Red.Mean-q.Red.Mean; math.Abs(got-want) > 3 {
		t.Errorf("drawn the shift is %.2f points, in closed form %.2f", got, want)
	}
	if pDrawn.Red.P10 >= qDrawn.Red.P10 || pDrawn.Red.P90 >= qDrawn.Red.P90 {
		t.Errorf("the interval did not move: %+v, %+v", pDrawn.Red, qDrawn.Red)
	}
	// A fit that knows of playoffs says of a qualification match what its robots say.
	var sum float64
	for _, team := range line.Red.Teams {
		i, _ := after.Index(team)
		sum += after.Mean(i)
	}
	if math.Abs(q.Red.Mean-sum-fouls-rest) > 1e-9 {
		t.Errorf("a qualification match: %.3f, its robots %.3f", q.Red.Mean, sum+fouls+rest)
	}
}

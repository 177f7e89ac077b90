package simulate

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

func source(a uint64) *rand.Rand { return rand.New(rand.NewPCG(a, 5)) }

// invented is an engine for an invented event of the given game.
func invented(t testing.TB, seed uint64, watched float64, change func(*game.Game)) (*Engine, *contrib.Fit) {
	t.Helper()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(g)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam, opt.Watched = 24, 8, watched
	if watched == 0 {
		opt.Scouts = 0
	}
	w, err := generate.New(g, source(seed), opt)
	if err != nil {
		t.Fatal(err)
	}
	fit, err := contrib.Estimate(w.Event(w.Matches()), contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return New(fit), fit
}

func uncapped(g *game.Game) {
	for i := range g.Actions {
		g.Actions[i].AllianceMax = nil
		for o := range g.Actions[i].Options {
			g.Actions[i].Options[o].AllianceMax = nil
		}
	}
}

// Mean and variance of drawn scores are those of the estimate, as a sum over
// robots says without drawing, where no cap takes anything off.
func TestForecastMatchesEstimate(t *testing.T) {
	t.Parallel()
	for _, watched := range []float64{0, 0.95} {
		e, fit := invented(t, 1, watched, uncapped)
		red, blue := []int{0, 3, 7}, []int{11, 12, 20}
		const runs = 20000
		got := e.Forecast(source(2), red, blue, runs)
		for _, side := range []struct {
			robots []int
			got    SideSummary
		}{{red, got.Red}, {blue, got.Blue}} {
			mean, variance := fit.Fouls()
			mean += fit.Rest(3)
			variance += fit.MatchVariance(side.robots...)
			for _, i := range side.robots {
				mean += fit.Mean(i)
				for _, j := range side.robots {
					variance += fit.Cov(i, j)
				}
			}
			var drawn float64
			for _, s := range side.got.Scores {
				drawn += (s - side.got.Mean) * (s - side.got.Mean) / (runs - 1)
			}
			sd := math.Sqrt(variance)
			if math.Abs(side.got.Mean-mean) > 0.02*mean+4*sd/math.Sqrt(runs) {
				t.Errorf("watched %v: drawn mean %.2f, estimate %.2f", watched, side.got.Mean, mean)
			}
			if r := math.Sqrt(drawn) / sd; r < 0.88 || r > 1.12 {
				t.Errorf("watched %v: drawn sd %.2f, estimate %.2f", watched, math.Sqrt(drawn), sd)
			}
			// Without caps only a choice that is worth more than the robot's
			// whole luck, or whole units, can differ.
			if math.Abs(side.got.Capped) > 1e-9 {
				t.Errorf("caps took off %.2f points, there are none", side.got.Capped)
			}
		}
		if s := got.RedWins + got.BlueWins + got.Tie; math.Abs(s-1) > 1e-9 {
			t.Errorf("chances sum to %v", s)
		}
	}
}

func TestForecastSameSourceSameNumbers(t *testing.T) {
	t.Parallel()
	e, _ := invented(t, 3, 0.9, nil)
	a, b := e.Forecast(source(9), []int{0, 1, 2}, []int{3, 4, 5}, 50), e.Forecast(source(9), []int{0, 1, 2}, []int{3, 4, 5}, 50)
	if diff := cmp.Diff(a, b); diff != "" {
		t.Error(diff)
	}
}

// Common random numbers: exchanging one robot for another moves the difference
// of two simulations far less than two independent ones differ.
func TestCommonRandomNumbers(t *testing.T) {
	t.Parallel()
	e, _ := invented(t, 4, 0.9, nil)
	var common, apart float64
	const n = 200
	for k := range uint64(n) {
		a := e.Forecast(source(k), []int{0, 1, 2}, []int{3, 4, 5}, 1)
		b := e.Forecast(source(k), []int{0, 1, 6}, []int{3, 4, 5}, 1)
		c := e.Forecast(source(k+1000), []int{0, 1, 6}, []int{3, 4, 5}, 1)
		common += (b.Blue.Mean - a.Blue.Mean) * (b.Blue.Mean - a.Blue.Mean) / n
		apart += (c.Blue.Mean - a.Blue.Mean) * (c.Blue.Mean - a.Blue.Mean) / n
	}
	if common > 0.2*apart {
		t.Errorf("blue, which plays the same, differs by %.2f², from independent sources by %.2f²", common, apart)
	}
}

// A cap of one barrel takes points off; without caps nothing does.
func TestCapsTakeOff(t *testing.T) {
	t.Parallel()
	free, _ := invented(t, 5, 0.95, uncapped)
	capped, _ := invented(t, 5, 0.95, func(g *game.Game) {
		one := 1.0
		for i := range g.Actions {
			g.Actions[i].AllianceMax = nil
			if g.Actions[i].ID == "deck" {
				g.Actions[i].AllianceMax = &one
			}
		}
	})
	red, blue := []int{0, 1, 2}, []int{3, 4, 5}
	if got := free.Forecast(source(1), red, blue, 200).Red.Capped; math.Abs(got) > 1e-9 {
		t.Errorf("no caps, but %.2f points off", got)
	}
	if got := capped.Forecast(source(1), red, blue, 200).Red.Capped; got < 0.5 {
		t.Errorf("barrels on deck count once, but only %.2f points off", got)
	}
}

// Against the generator, which plays every match over: chances of ranking
// points are not far from what happens, and better than the event's base rate.
func TestRankingPointsAgainstTruth(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam = 30, 10
	w, err := generate.New(g, source(6), opt)
	if err != nil {
		t.Fatal(err)
	}
	half := w.Matches() / 2
	fit, err := contrib.Estimate(w.Event(half), contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	e, truth := New(fit), w.Truth(60)
	for _, id := range []string{"laden", "berth", "win"} {
		var base, n, off, spread float64
		for k := half; k < w.Matches(); k++ {
			base += truth.Matches[k].RankingPoints[record.Red][id]
			n++
		}
		base /= n
		for k := half; k < w.Matches(); k++ {
			m := w.Schedule()[k]
			p := e.Forecast(source(uint64(k)), index(t, fit, m.Red.Teams), index(t, fit, m.Blue.Teams), 100).Red.RankingPoints[id]
			want := truth.Matches[k].RankingPoints[record.Red][id]
			off += (p - want) * (p - want) / n
			spread += (base - want) * (base - want) / n
		}
		t.Logf("%s: off by %.3f, base rate by %.3f", id, math.Sqrt(off), math.Sqrt(spread))
		if off > spread {
			t.Errorf("%s: chances are off by %.3f, the base rate %.2f by %.3f", id, math.Sqrt(off), base, math.Sqrt(spread))
		}
	}
}

func index(t *testing.T, fit *contrib.Fit, teams []record.TeamID) (out []int) {
	t.Helper()
	for _, x := range teams {
		i, ok := fit.Index(x)
		if !ok {
			t.Fatalf("no team %s", x)
		}
		out = append(out, i)
	}
	return out
}

package backtest

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"sextant/stats/contrib"
	"sextant/stats/contrib/contribtest"
	"sextant/stats/record"
)

// Quantiles of binomial laws by R 4.2: qbinom(c(.05, .95), 10, .5) is 2 and 8,
// (20, .1) 0 and 4, (100, .73) 66 and 80 (values from memory of running it;
// each follows from the sum of the terms, which the second loop takes exactly).
func TestBinomial(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		n         int
		p         float64
		low, high float64
	}{{10, 0.5, 2, 8}, {20, 0.1, 0, 4}, {100, 0.73, 66, 80}, {7, 0, 0, 0}, {7, 1, 7, 7}} {
		if low, high := binomial(c.n, c.p, 0.05), binomial(c.n, c.p, 0.95); low != c.low || high != c.high {
			t.Errorf("%d tries of %v: %v to %v, want %v to %v", c.n, c.p, low, high, c.low, c.high)
		}
	}
	choose := func(n, k int) float64 {
		c := 1.0
		for i := range k {
			c = c * float64(n-i) / float64(i+1)
		}
		return c
	}
	for n := 1; n < 15; n++ {
		for _, p := range []float64{0.03, 0.4, 0.9} {
			sum, want := 0.0, n
			for k := n; k >= 0; k-- {
				if sum += choose(n, k) * math.Pow(p, float64(k)) * math.Pow(1-p, float64(n-k)); sum <= 0.05 {
					want = k - 1
				}
			}
			if got := binomial(n, p, 0.95); got != float64(want) {
				t.Errorf("n %d, p %v: %v, want %d", n, p, got, want)
			}
		}
	}
}

// Four forecasts by hand.
func TestBins(t *testing.T) {
	t.Parallel()
	one := func(red, tie, redScore, blueScore float64) Match {
		return Match{Forecast: record.Forecast{Chance: record.Chance{Red: red, Tie: tie, Blue: 1 - red - tie}}, RedScore: redScore, BlueScore: blueScore}
	}
	got := Bins([]Match{one(0.1, 0.04, 3, 9), one(0.17, 0, 9, 3), one(1, 0, 9, 3), one(0.18, 0, 5, 5)}, 10)
	if len(got) != 2 || got[0].Count != 3 || got[0].From != 0.1 || got[0].To != 0.2 ||
		math.Abs(got[0].Chance-(0.12+0.17+0.18)/3) > 1e-12 || math.Abs(got[0].Won-0.5) > 1e-12 || got[1].Count != 1 || got[1].From != 0.9 || got[1].Won != 1 {
		t.Errorf("%+v", got)
	}
}

func TestCalibrate(t *testing.T) {
	t.Parallel()
	ev := contribtest.New(rand.New(rand.NewPCG(3, 1)), contribtest.Options{Robots: 18, Matches: 48, Watched: 0.95, Noise: 1}).Event
	c, err := Calibrate(t.Context(), ev, 20)
	if err != nil {
		t.Fatal(err)
	}
	if c.Played != 48 || len(c.Rows) != 2*len(Aheads) || len(c.Forecasts) != 40 || c.Explained == nil {
		t.Fatalf("%d played, %d rows, %d forecasts, explained %v", c.Played, len(c.Rows), len(c.Forecasts), c.Explained)
	}
	for _, r := range c.Rows {
		n, mean := 0, 0.0
		for _, b := range r.Bins {
			n, mean = n+b.Count, mean+float64(b.Count)*b.Won
			if b.Low > b.High || b.Chance < b.From-1e-9 || b.Chance > b.To+1e-9 {
				t.Errorf("%s %d: bin %+v", r.Estimator, r.Ahead, b)
			}
		}
		if n != r.Summary.Forecast || r.Sharpness.SD <= 0 || r.Sharpness.Decided <= 0 {
			t.Errorf("%s %d: %d in bins of %d, %+v", r.Estimator, r.Ahead, n, r.Summary.Forecast, r.Sharpness)
		}
	}
	// What was forecast then is what Run forecasts now: nothing else reaches it.
	alone, err := Run(ev, Options{From: learned, Draws: 20})
	if err != nil {
		t.Fatal(err)
	}
	if s := c.Rows[0].Summary; c.Rows[0].Estimator != contrib.EstimatorFused || s.Brier != alone.Summary.Brier || s.CRPS != alone.Summary.CRPS {
		t.Errorf("the first row is %+v", c.Rows[0].Summary)
	}
	if tr := c.Trust; tr.Matches != 40 || tr.Level == TrustTooLittle || math.Abs(tr.Skill-(1-4*alone.Summary.Brier)) > 1e-12 || tr.Least >= tr.Skill {
		t.Errorf("%+v", tr)
	}
}

func TestCalibrateWithLittle(t *testing.T) {
	t.Parallel()
	ev := contribtest.New(rand.New(rand.NewPCG(3, 1)), contribtest.Options{Robots: 12, Matches: 8, Watched: 0.95, Noise: 1}).Event
	c, err := Calibrate(t.Context(), ev, 5)
	if err != nil || c.Trust.Level != TrustTooLittle || len(c.Rows) == 0 {
		t.Errorf("%+v, %v", c, err)
	}
	for i := range ev.Matches {
		ev.Matches[i].Red.Result, ev.Matches[i].Blue.Result = nil, nil
	}
	ev.Observations = nil
	if c, err = Calibrate(t.Context(), ev, 5); err != nil || len(c.Rows) != 0 || c.Rows == nil || c.Trust.Level != TrustTooLittle {
		t.Errorf("an event before its start: %+v, %v", c, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	ev = contribtest.New(rand.New(rand.NewPCG(3, 1)), contribtest.Options{Robots: 12, Matches: 8}).Event
	if _, err := Calibrate(ctx, ev, 5); !errors.Is(err, context.Canceled) {
		t.Errorf("an ended context: %v", err)
	}
}

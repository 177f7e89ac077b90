package fused

import (
	"errors"
	"math"
	"slices"
	"testing"
)

// Errors of θ at the end of whole events are about their standard deviations.
func TestFitFindsTruth(t *testing.T) {
	t.Parallel()
	for seed := range uint64(3) {
		p, truth := fullWorld().draw(source(seed))
		fit, err := p.Fit(Options{})
		if err != nil {
			t.Fatal(err)
		}
		var z2 float64
		for i, v := range truth.theta {
			z2 += square(fit.Now.Mean[i]-v) / fit.Now.Cov.At(i, i) / float64(len(truth.theta))
		}
		if z2 < 0.5 || z2 > 1.6 { // 60 robots: 1 ± 0.18
			t.Errorf("seed %d: errors are %.2f times their standard deviations", seed, math.Sqrt(z2))
		}
	}
}

// The search ends near the mode: no step along any coordinate gains more than
// a little, and it never ends below where it began.
func TestSearchFindsMode(t *testing.T) {
	t.Parallel()
	w := fullWorld()
	w.c[ScoutRate], w.c[Robot] = 0.18, 0.75 // far from the priors' medians
	p, _ := w.draw(source(8))
	m := newModel(p)
	target := func(u point) float64 {
		c := fromCoordinates(u)
		ll, err := m.pass(&c, course{now: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range u {
			ll -= v * v / 2
		}
		return ll
	}
	c, _, err := m.tune(Medians())
	if err != nil {
		t.Fatal(err)
	}
	top := target(c.coordinates())
	if gain := top - target(Medians().coordinates()); gain < 5 {
		t.Errorf("only %.2f better than the medians", gain)
	}
	for i := range c {
		for _, step := range []float64{-0.3, 0.3} {
			u := c.coordinates()
			u[i] += step
			if gain := target(u) - top; gain > 0.3 {
				t.Errorf("%s: a step of %v prior standard deviations gains %.2f", Priors[i].Name, step, gain)
			}
		}
	}
	if c[ScoutRate] < 0.14 || math.Abs(c[Partners]) > 0.12 {
		t.Errorf("scout rate %.3f and partners %.2f, drawn with 0.18 and 0", c[ScoutRate], c[Partners])
	}
}

// A scout whose errors are large is told from careful ones.
func TestFitTellsCarelessScout(t *testing.T) {
	t.Parallel()
	p, _ := fullWorld().draw(source(9))
	rng := source(10)
	for i := range p.Plays {
		for k := range p.Plays[i].Views {
			if v := &p.Plays[i].Views[k]; v.Scout == 3 {
				v.Points *= 1 + 0.35*rng.NormFloat64()
			}
		}
	}
	fit, err := p.Fit(Options{})
	if err != nil {
		t.Fatal(err)
	}
	for k, v := range fit.Spread {
		if k != 3 && v > 0.75*fit.Spread[3] {
			t.Errorf("scout %d has the spread %.2f, the careless one %.2f", k, v, fit.Spread[3])
		}
	}
}

// A robot that is far ahead of all others is found to be, and is drawn in less
// than under a normal law for robots; the others stay where they are.
func TestFitKeepsFarRobot(t *testing.T) {
	t.Parallel()
	var tailed, normal float64 // mean of estimate − truth, units of s
	const events = 6
	for seed := range uint64(events) {
		w := fullWorld()
		w.watched, w.far, w.walk = 0.5, 2.2, false
		p, truth := w.draw(source(20 + seed))
		fit, err := p.Fit(Options{})
		if err != nil {
			t.Fatal(err)
		}
		held, err := p.Fit(Options{Start: &Settings{Components: fit.Components, Spread: fit.Spread}, Hold: true})
		if err != nil {
			t.Fatal(err)
		}
		tailed += (fit.Over().Mean[0] - truth.theta[0]) / p.Scale / events
		normal += (held.Over().Mean[0] - truth.theta[0]) / p.Scale / events
		if far := slices.Max(fit.Tail[1:]); fit.Tail[0] < 1.5 || fit.Tail[0] < 0.8*far {
			t.Errorf("seed %d: tail %.2f, the largest of the others %.2f", seed, fit.Tail[0], far)
		}
	}
	if tailed < normal+0.03 || math.Abs(tailed) > 0.25 {
		t.Errorf("off by %+.3f s on average, by %+.3f under a normal law", tailed, normal)
	}
}

// What is kept from an earlier fit is used as it is.
func TestFitHoldsSettings(t *testing.T) {
	t.Parallel()
	p, _ := fullWorld().draw(source(31))
	fit, err := p.Fit(Options{})
	if err != nil {
		t.Fatal(err)
	}
	again, err := p.Fit(Options{Start: &fit.Settings, Hold: true})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(fit.Now.Mean, again.Now.Mean) || !slices.Equal(fit.Over().Mean, again.Over().Mean) {
		t.Error("the same settings give other robots")
	}
}

// A pass over an event allocates nothing once the work space has grown.
func TestPassAllocatesNothing(t *testing.T) {
	p, _ := fullWorld().draw(source(1))
	m, c := newModel(p), Medians()
	how := course{now: true}
	if _, err := m.pass(&c, how); err != nil {
		t.Fatal(err)
	}
	if n := testing.AllocsPerRun(3, func() { _, _ = m.pass(&c, how) }); n != 0 {
		t.Errorf("%v allocations in a pass over %d plays", n, len(p.Plays))
	}
}

// Figures in another unit give the same answer in that unit.
func TestFitScales(t *testing.T) {
	t.Parallel()
	p, _ := fullWorld().draw(source(11))
	a, err := p.Fit(Options{})
	if err != nil {
		t.Fatal(err)
	}
	const factor = 8 // a power of two, so that no digit is rounded
	q := *p
	q.Scale, q.RestSD = q.Scale*factor, q.RestSD*factor
	q.Plays = append([]Play(nil), p.Plays...)
	for i := range q.Plays {
		q.Plays[i].Totals = append([]Total(nil), q.Plays[i].Totals...)
		for k := range q.Plays[i].Totals {
			q.Plays[i].Totals[k].Own *= factor
		}
		q.Plays[i].Views = append([]View(nil), q.Plays[i].Views...)
		for k := range q.Plays[i].Views {
			q.Plays[i].Views[k].Points *= factor
		}
	}
	b, err := q.Fit(Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range a.Now.Mean {
		if math.Abs(b.Now.Mean[i]-factor*a.Now.Mean[i]) > 1e-9*b.Now.Mean[i] {
			t.Errorf("robot %d: %v, in the other unit %v", i, a.Now.Mean[i], b.Now.Mean[i])
		}
	}
}

func TestFitRefuses(t *testing.T) {
	t.Parallel()
	for _, p := range []*Problem{{}, {Robots: 3}, {Robots: 3, Scale: math.NaN()}} {
		if _, err := p.Fit(Options{}); !errors.Is(err, ErrNothing) {
			t.Errorf("%+v: error %v, want ErrNothing", p, err)
		}
	}
}

package contrib

import (
	"fmt"
	"math"
	"testing"
)

// crossedReference fits a named model of a reference event: crossed robots and
// scouts on counts, or own robots and opponents on scores.
func crossedReference(t testing.TB, event, model string) (*crossedFit, []string, []int) {
	t.Helper()
	ev, _ := readEvent(t, event)
	n := len(ev.Robots)
	index := map[int]int{}
	for i, r := range ev.Robots {
		index[r] = i
	}
	var c *crossed
	kinds, sizes := []string{"robot", "scout"}, []int{n, ev.Scouts}
	if model == "own_opponent" {
		kinds, sizes = []string{"own", "opponent"}, []int{n, n}
		c = newCrossed(sizes...)
		for _, m := range ev.Matches {
			var red, blue []int
			for k := range m.Red {
				red, blue = append(red, index[m.Red[k]]), append(blue, index[m.Blue[k]])
			}
			for k := range 3 {
				red, blue = append(red, n+blue[k]), append(blue, n+red[k])
			}
			c.add(m.RedS, red...)
			c.add(m.BlueS, blue...)
		}
	} else {
		c = newCrossed(sizes...)
		for _, o := range ev.Observations {
			c.add(o.Count, index[o.Robot], n+o.Scout-1)
		}
	}
	fit, err := c.fit()
	if err != nil {
		t.Fatal(err)
	}
	return fit, kinds, sizes
}

// Two kinds of random effects against 40-digit arithmetic and lme4: robots
// crossed with scouts, and own robots beside opponents. See SOURCE.md.
func TestCrossedReference(t *testing.T) {
	t.Parallel()
	_, small := readEvent(t, "small")
	_, medium := readEvent(t, "medium")
	for _, c := range []struct {
		event, model string
		want, lme4   *refREML
	}{
		{"medium", "crossed", medium.High.Crossed, medium.Crossed},
		{"medium", "own_opponent", medium.High.OwnOpponent, medium.OwnOpponent},
		{"small", "own_opponent", small.High.OwnOpponent, small.OwnOpponent},
	} {
		t.Run(c.event+"/"+c.model, func(t *testing.T) {
			got, kinds, sizes := crossedReference(t, c.event, c.model)
			compare := func(whose string, want *refREML, tolerance float64) {
				check := func(what string, got, want float64) {
					t.Helper()
					if !(math.Abs(got-want) <= tolerance*math.Max(1, math.Abs(want))) {
						t.Errorf("%s, %s: %.12g, want %.12g", whose, what, got, want)
					}
				}
				check("residual variance", got.sigma2, want.Variance["residual"])
				check("mu", got.mu, want.Fixed.Mu)
				check("se of mu", math.Sqrt(got.muVar*got.sigma2), want.Fixed.SE)
				check("criterion", got.criterion, want.Criterion)
				at := 0
				for f, kind := range kinds {
					check("variance of "+kind, got.tau2[f], want.Variance[kind])
					if len(want.BLUP[kind]) != sizes[f] {
						t.Fatalf("%d effects of %s, want %d", len(want.BLUP[kind]), kind, sizes[f])
					}
					for i := range sizes[f] {
						name := fmt.Sprint(kind, " ", i)
						known := got.c.At(at, at)
						check("effect of "+name, got.u[at], want.BLUP[kind][i])
						check("conditional sd of "+name, math.Sqrt(known*got.sigma2), want.ConditionalSD[kind][i])
						if sd := want.PredictionSD[kind]; sd != nil && want.Variance[kind] > 0 {
							check("prediction sd of "+name, math.Sqrt((known+square(got.g[at])*got.muVar)*got.sigma2), sd[i])
						}
						at++
					}
				}
			}
			compare("40 digits", c.want, 1e-7)
			compare("lme4", c.lme4, 2e-6) // good to about seven digits itself
		})
	}
}

// Scores without any difference between robots, or scouts: no variance, no
// effect, and no number that is none.
func TestCrossedWithoutDifference(t *testing.T) {
	t.Parallel()
	c := newCrossed(6, 3)
	for i := range 36 {
		c.add(10+float64((i/18)%2)*2-1, i%6, 6+i%3) // the same plus and minus for everybody
	}
	got, err := c.fit()
	if err != nil {
		t.Fatal(err)
	}
	if got.tau2[0] != 0 || got.tau2[1] != 0 || math.Abs(got.sigma2-36.0/35) > 1e-9 || math.Abs(got.mu-10) > 1e-9 {
		t.Errorf("variances %v and %v, residual %v, mean %v; want 0, 0, 36/35, 10", got.tau2[0], got.tau2[1], got.sigma2, got.mu)
	}
	for i, u := range got.u {
		if u != 0 {
			t.Errorf("effect %d is %v", i, u)
		}
	}
	one := newCrossed(2, 1)
	one.add(3, 0, 2)
	if _, err := one.fit(); err == nil {
		t.Error("one row gives a fit")
	}
}

// The BLUP is ridge with a free intercept at λ = σ²/τ² (solved here as an
// augmented least-squares problem by R and, in exact fractions, by Python).
func TestRidgeIdentity(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"small", "medium", "early", "flat"} {
		ev, ex := readEvent(t, name)
		if len(ex.RidgeIntercept) != 2 || len(ex.RidgeNoIntercept) != 2 {
			t.Fatalf("%s: %d ridges with an intercept, %d without: the file is not what it was", name, len(ex.RidgeIntercept), len(ex.RidgeNoIntercept))
		}
		s := newSystem(len(ev.Robots))
		none := newSystem(len(ev.Robots)) // without a mean: x = 0 has no equation, so it is pinned by a row of its own
		for _, r := range ev.rows(func(own, _ float64) float64 { return own }) {
			s.add(referenceBlock(r, 1))
			b := referenceBlock(r, 1)
			b.x[0] = 0
			none.add(b)
		}
		none.add(&block{cols: nil, h: [][]float64{nil}, x: []float64{1}, y: []float64{0}, v: [][]float64{{1}}})
		for k, want := range ex.RidgeIntercept {
			t.Run(fmt.Sprint(name, want.Lambda), func(t *testing.T) {
				g := make([]float64, len(ev.Robots))
				for i := range g {
					g[i] = 1 / want.Lambda
				}
				for _, c := range []struct {
					what string
					s    *system
					want refRidge
				}{{"with intercept", s, want}, {"without", none, ex.RidgeNoIntercept[k]}} {
					p, err := c.s.solve(g)
					if err != nil {
						t.Fatal(err)
					}
					if math.Abs(p.mu-c.want.Intercept) > 1e-9 {
						t.Errorf("%s: intercept %.14g, want %.14g", c.what, p.mu, c.want.Intercept)
					}
					for i, b := range c.want.Coefficients {
						if math.Abs(p.u[i]-b) > 1e-9 {
							t.Errorf("%s: robot %d: %.14g, want %.14g", c.what, i, p.u[i], b)
						}
					}
				}
			})
		}
	}
}

package check

import (
	"math"
	"testing"
)

func TestDistance(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		a, b string
		want int
	}{{"40117", "40117", 0}, {"40117", "40171", 1}, {"40117", "4017", 1}, {"40117", "401117", 1}, {"40117", "40118", 1}, {"40117", "10417", 2}, {"", "12", 2}} {
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("%s and %s: %d, want %d", c.a, c.b, got, c.want)
		}
		if got := distance(c.b, c.a); got != c.want {
			t.Errorf("%s and %s: %d, want %d", c.b, c.a, got, c.want)
		}
	}
}

// The five forms have the moments of a normal law: weights 1, mean 0,
// variance 1, fourth moment 3.
func TestFormIsNormal(t *testing.T) {
	t.Parallel()
	var m [5]float64
	for _, f := range form {
		z := math.Log(f.factor) / formSD
		for k := range m {
			m[k] += f.weight * math.Pow(z, float64(k))
		}
	}
	for k, want := range []float64{1, 0, 1, 0, 3} {
		if math.Abs(m[k]-want) > 1e-4 {
			t.Errorf("moment %d is %v, want %v", k, m[k], want)
		}
	}
}

// A count follows the negative binomial law: C(4,3)·(1/3)²·(2/3)³ for 3 with
// size 2 and mean 4, which R's dnbinom(3, size = 2, mu = 4) gives too
// (0.1316872, by hand here).
func TestCountIsNegativeBinomial(t *testing.T) {
	t.Parallel()
	p := &profiles{prior: []cellPrior{{over: 0.3 + square(formSD)}}}
	e := &expected{rate: []float64{8}, variance: []float64{0.2 * 64}}
	var at [len(form)]float64
	p.count(&at, 0, 3, e, 0.5)
	if got, want := math.Exp(at[2]), 4.0/9*8/27; math.Abs(got-want) > 1e-12 {
		t.Errorf("%v, want %v", got, want)
	}
	var sum float64
	for x := range 400 {
		var at [len(form)]float64
		p.count(&at, 0, float64(x), e, 0.5)
		sum += math.Exp(mixForm(&at))
	}
	if math.Abs(sum-1) > 1e-4 {
		t.Errorf("all counts together have the probability %v", sum)
	}
}

// Priors are drawn to what is found, and stay where nothing was looked at.
func TestLearn(t *testing.T) {
	t.Parallel()
	var sum, chances [priorCount]float64
	sum[stuckPrior], chances[stuckPrior] = 20, 500
	got := learn(&sum, &chances)
	if want := 21.0 / 1000; math.Abs(got[stuckPrior]-want) > 1e-12 {
		t.Errorf("%v, want %v", got[stuckPrior], want)
	}
	if got[periodPrior] != priors[periodPrior].share {
		t.Errorf("%v, want the prior", got[periodPrior])
	}
}

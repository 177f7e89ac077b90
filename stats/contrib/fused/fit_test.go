package fused

import (
	"math"
	"testing"
)

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
		t.Log(seed, z2, fit.Components, fit.LogPosterior, fit.Outliers)
		if math.Abs(math.Log(z2)) > 1 {
			t.Errorf("seed %d: errors are %.2f times their standard deviations", seed, math.Sqrt(z2))
		}
	}
}

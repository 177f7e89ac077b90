package fused

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"
)

// Simulation-based calibration (Talts, Betancourt, Simpson, Vehtari, Gelman
// 2018, arXiv 1804.06788): data drawn from the model, with walk and drift, with
// the variance components held at the values that drew them; then Φ((truth −
// mean)/sd) is uniform, for a robot and for the difference of two; for a scout's
// bias it is reported. The model is not quite linear (a scout's bias times what there
// is, noise by an estimated strength), so this also tells what linearising costs.
//
// SEXTANT_CALIBRATION=5000 runs the long form with as many replications.
func TestSimulationBasedCalibration(t *testing.T) {
	t.Parallel()
	replications := 400.0
	if n, err := strconv.Atoi(os.Getenv("SEXTANT_CALIBRATION")); err == nil && n > 0 {
		replications = float64(n)
	}
	const (
		bins  = 10
		limit = 27.88 // χ², 9 degrees of freedom, 99.9 %
	)
	for _, watched := range []float64{0, 0.5, 1} {
		t.Run(fmt.Sprintf("Watched%.0f", 100*watched), func(t *testing.T) {
			t.Parallel()
			w := fullWorld()
			w.robots, w.matches, w.scouts, w.watched = 18, 24, 4, watched
			rng := source(uint64(100 * watched))
			counts := map[string]*[bins]float64{"a robot": {}, "the difference of two": {}, "a scout's bias": {}}
			put := func(what string, off, variance float64) {
				counts[what][min(bins-1, int(bins*math.Erfc(-off/math.Sqrt(2*variance))/2))]++
			}
			for range int(replications) {
				p, truth := w.draw(rng)
				fit, err := p.Fit(Options{Start: &Settings{Components: w.c}, Hold: true})
				if err != nil {
					t.Fatal(err)
				}
				i := rng.IntN(w.robots)
				j := (i + 1 + rng.IntN(w.robots-1)) % w.robots
				now := fit.Now
				put("a robot", truth.theta[i]-now.Mean[i], now.Cov.At(i, i))
				put("the difference of two", truth.theta[i]-truth.theta[j]-now.Mean[i]+now.Mean[j], now.Cov.At(i, i)+now.Cov.At(j, j)-2*now.Cov.At(i, j))
				k := rng.IntN(w.scouts)
				put("a scout's bias", truth.bias[k]-fit.Bias[k], square(fit.BiasSD[k]))
			}
			for what, n := range counts {
				chi := 0.0
				for _, v := range n {
					chi += square(v-replications/bins) / (replications / bins)
				}
				t.Logf("%s: χ² = %.1f on %d bins: %v", what, chi, bins, *n)
				// The bias of a scout is told a little low where everything is
				// watched: its weight is what was expected, not what there was.
				if chi > limit && what != "a scout's bias" {
					t.Errorf("%s: χ² = %.1f on %d bins: %v", what, chi, bins, *n)
				}
			}
		})
	}
}

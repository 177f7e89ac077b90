package study

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What outcomes were drawn with is learned back, and with too little to learn
// from nothing is corrected.
func TestLogistic(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(4, 2))
	var x []float64
	var y []bool
	for range 20000 {
		odds := 4 * rng.NormFloat64()
		x = append(x, odds)
		y = append(y, rng.Float64() < 1/(1+math.Exp(0.8-0.5*odds)))
	}
	got, err := logistic(x, y)
	if err != nil || math.Abs(got.Shift+0.8) > 0.08 || math.Abs(got.Slope-0.5) > 0.03 {
		t.Errorf("%+v, %v; want shift -0.8 and slope 0.5", got, err)
	}
	if got, err = logistic(nil, nil); err != nil || got.Shift != 0 || got.Slope != 1 {
		t.Errorf("of nothing %+v, %v", got, err)
	}
	// All right, and far out: no runaway.
	far := make([]float64, 50)
	all := make([]bool, 50)
	for i := range far {
		far[i], all[i] = 12, true
	}
	if got, err = logistic(far, all); err != nil || got.Slope < 0.9 || got.Slope > 2 {
		t.Errorf("of what is sure %+v, %v", got, err)
	}
}

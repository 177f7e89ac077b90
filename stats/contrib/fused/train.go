package fused

import (
	"fmt"
	"math"
)

// trainingDoubt is how many times the variance of a count in a match a count in
// a training has as evidence of how the scout will count: a screen is no hall.
// Plausible, not measured.
const trainingDoubt = 2

// train takes the trainings in, before the first match: rows of the same form
// as a scout's in a match, of a robot whose points are known. It returns their
// log likelihood; without trainings it does nothing.
func (m *model) train(c *Components, how course) (float64, error) {
	if len(m.p.Trained) == 0 {
		return 0, nil
	}
	b, f, s := m.batch, m.filter, m.p.Scale
	b.Reset()
	for _, t := range m.p.Trained {
		k := m.scoutIndex(t.Scout)
		there := t.True / s
		variance := trainingDoubt * m.spread[t.Scout] * countVar(c, there)
		b.Add(t.Points/s-(1+f.Mean(k))*there, variance).Guard().State(k, there)
	}
	ll, err := f.UpdateGuarded(b, outlierLimit)
	if err != nil {
		return 0, fmt.Errorf("trainings: %w", err)
	}
	if how.trained != nil {
		how.trained(m)
	}
	return ll - float64(len(m.p.Trained))*math.Log(s), nil
}

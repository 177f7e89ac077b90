package study

import (
	"errors"
	"fmt"
	"math"

	"sextant/stats/check"
	"sextant/stats/game"
)

// CheckFit is how probabilities of one kind of suspect are to be corrected.
type CheckFit struct {
	Kind check.Kind `json:"kind"`
	check.Logistic
	Suspects int `json:"suspects"` // from which it was learned
	Right    int `json:"right"`    // of them
}

// FitCheck learns from invented events how often suspects of each kind are
// right, given their uncorrected probability.
func FitCheck(g *game.Game, opt CheckOptions) ([]CheckFit, error) {
	odds := map[check.Kind][]float64{}
	truths := map[check.Kind][]bool{}
	var truth [][]mistake
	for k := range opt.Seeds {
		e, err := spoiled(g, &opt, k)
		if err != nil {
			return nil, err
		}
		truth = append(truth, e.wrong)
		for _, s := range check.Find(e.event, e.fit, check.Options{Least: leastListed, Raw: true}).Suspects {
			if s.Probability >= 0.01 && check.Calibrated(&s) {
				a := alarm{k, s}
				odds[s.Kind] = append(odds[s.Kind], check.LogOdds(s.Probability))
				truths[s.Kind] = append(truths[s.Kind], named(&a, truth))
			}
		}
	}
	var out []CheckFit
	for _, kind := range inferred {
		if len(odds[kind]) == 0 {
			continue
		}
		fit := CheckFit{Kind: kind, Suspects: len(odds[kind])}
		for _, y := range truths[kind] {
			fit.Right += int(count(y))
		}
		var err error
		if fit.Logistic, err = logistic(odds[kind], truths[kind]); err != nil {
			return nil, fmt.Errorf("%s: %w", kind, err)
		}
		out = append(out, fit)
	}
	return out, nil
}

// lean is the weight of the belief that nothing needs to be corrected: shift 0
// and slope 1, each with a standard deviation of 1.
const lean = 1.0

// logistic fits a shift and a slope of log odds by Newton's method, each step
// halved until it is one upwards.
func logistic(x []float64, y []bool) (check.Logistic, error) {
	fits := func(a, b float64) float64 {
		sum := -lean * (a*a + (b-1)*(b-1)) / 2
		for i := range x {
			eta := a + b*x[i]
			if !y[i] {
				eta = -eta
			}
			sum -= math.Max(0, -eta) + math.Log1p(math.Exp(-math.Abs(eta)))
		}
		return sum
	}
	a, b := 0.0, 1.0
	for range 100 {
		ga, gb := -lean*a, -lean*(b-1)
		haa, hab, hbb := lean, 0.0, lean
		for i := range x {
			p := 1 / (1 + math.Exp(-a-b*x[i]))
			d, w := count(y[i])-p, p*(1-p)
			ga, gb = ga+d, gb+d*x[i]
			haa, hab, hbb = haa+w, hab+w*x[i], hbb+w*x[i]*x[i]
		}
		det := haa*hbb - hab*hab
		da, db := (hbb*ga-hab*gb)/det, (haa*gb-hab*ga)/det
		for now := fits(a, b); fits(a+da, b+db) < now && math.Abs(da)+math.Abs(db) > 1e-9; {
			da, db = da/2, db/2
		}
		a, b = a+da, b+db
		if math.Abs(da)+math.Abs(db) < 1e-9 {
			return check.Logistic{Shift: a, Slope: b}, nil
		}
	}
	return check.Logistic{}, errors.New("no fit after 100 steps")
}

package check

import "math"

// Probabilities by likelihood rest on laws that are only nearly right, so the
// log odds are shifted and stretched, kind by kind, to what came true on
// invented events (logistic calibration; Platt 1999, in Advances in Large Margin
// Classifiers). The events are none of those on which stats/check.md measures:
//
//	sextant check --seeds 60 --first-seed 2001 --truth-runs 2 --calibrate --format table
//
// Facts (missing, unknown team) and what the venue says itself are not touched.
// Called absent is left as it is: invented robots are hardly ever absent without
// the venue saying so, so nothing can be learned of those.
var calibration = map[Kind]Logistic{
	Swap:       {-0.02, 0.66},
	WrongRobot: {-0.79, 0.55},
	Period:     {1.05, 1.12},
	Stuck:      {-0.45, 0.92},
	Outlier:    {0.42, 0.55},
	Disagree:   {-0.12, 0.50},
}

// Logistic turns the log odds x of a probability into Shift + Slope·x.
type Logistic struct {
	Shift float64 `json:"shift"`
	Slope float64 `json:"slope"`
}

// jumpCalibration does the same for changes of robots, learned where three robots
// in twenty are altered and others have trouble of their own:
//
//	sextant check --seeds 60 --first-seed 2001 --truth-runs 2 --changes --calibrate --format table
var jumpCalibration = Logistic{1.02, 1.24}

// of is a probability as it comes true.
func (c Logistic) of(p float64) float64 { return 1 / (1 + math.Exp(-c.Shift-c.Slope*LogOdds(p))) }

// farOdds bounds log odds: beyond it likelihoods say no more than "surely".
const farOdds = 12.0

// LogOdds of a probability, at most twelve from even odds.
func LogOdds(p float64) float64 {
	return math.Max(-farOdds, math.Min(farOdds, math.Log(p)-math.Log1p(-p)))
}

// calibrated is a probability of a kind as it comes true.
func (t *table) calibrated(kind Kind, p float64) float64 {
	c, ok := calibration[kind]
	if !ok || t.opt.Raw {
		return p
	}
	return c.of(p)
}

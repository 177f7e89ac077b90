// Package contrib estimates what each robot adds to its own alliance's score,
// in points per match with the points received by fouls left out, from what
// the venue published and from what scouts saw. It answers with means, standard
// deviations and the full covariance, and tells how they came about.
//
// Three layers stand side by side, each in files of its own:
//
//  1. ratings.go, leastsquares.go: plain least squares on alliance scores, the
//     trade's offensive and defensive power ratings (OPR, DPR) and the
//     contribution to the winning margin (CCWM). Null where the schedule does
//     not determine them.
//  2. mixed.go, system.go: a mixed model on totals by restricted maximum
//     likelihood (REML) with best linear unbiased predictions (BLUP).
//  3. fusion.go, capping.go, prior.go: totals and records together, the
//     estimate that the program uses, by the state space of package fused.
//
// baseline.go puts the first two in the form of a forecast, for comparison.
//
// The package never reads a file, a clock or a random source: the same event
// gives the same numbers. It imports stats/record and stats/game; forecast,
// backtest, cmd and api/engine import it. One example:
//
//	fit, err := contrib.Estimate(ev, contrib.Options{})
//	if errors.Is(err, contrib.ErrNoData) { … nothing was played yet … }
//	best := fit.Record().Teams[0].Points
package contrib

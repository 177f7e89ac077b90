// Package worth tells what a call in alliance selection is worth to us: how
// much the chance to win the event, or the worth of the place that we may end
// at, changes if this robot is called.
//
// It draws worlds: what is not known of the robots, and how every captain looks
// at them. In each world every candidate is called in turn, and from there on
// the selection is played to its end and the playoff gone through: the same
// luck for all candidates (common random numbers), so that differences are told
// far more exactly than each worth.
//
//   - Captains choose by a Plackett-Luce law (Plackett 1975,
//     doi:10.2307/2346567): in the order of a blend of the public ranking and the
//     expected contribution, plus Gumbel noise, drawn once a world and captain.
//     An invited captain may decline. What is known of a captain can be pinned.
//   - We choose what adds most to our alliance's expected score, caps and limits
//     counted: a third lifter where only two are credited adds little.
//   - A game between two alliances goes by the mean, the variance, the
//     skewness and the kurtosis of both scores in that world (Edgeworth's series),
//     played as hard as playoffs are; caps and
//     limits come from drawn matches that package game credits.
//   - The playoff is gone through exactly (bracket.Plan), so its luck adds no
//     noise.
//
// An Evaluation is refined a batch of worlds at a time: show what there is and
// go on. Randomness is passed in as a seed; the same seed gives the same
// numbers on any number of cores. It imports selection, bracket, simulate,
// contrib, record and game; cmd, api/engine and study import it.
//
//	e, err := worth.New(fit, board, worth.Options{Our: "40117", Seed: 1})
//	err = e.Refine(ctx, 0.005, 2000, func(a *record.Advice) bool { return true })
package worth

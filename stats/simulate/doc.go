// Package simulate plays matches that were not played yet, as often as one
// likes, from what an estimate knows and does not know. Forecasts draw ranking
// points and the effect of caps from it; standings, selection and bracket can
// draw whole weekends.
//
// A draw goes down three steps:
//
//  1. A world: θ of all robots from their posterior with the full covariance.
//     What is not known is drawn once a world, so two matches of one robot
//     share it.
//  2. A match: how much of it each robot has (stops), and its luck, correlated
//     among partners. The total is a gamma law by the approximation of Wilson
//     and Hilferty (1931, doi:10.1073/pnas.17.12.684), so it is above zero and
//     skewed to the right; mean and variance are those of the estimate.
//  3. Actions: choices and flags by the robot's own profile, counts by its
//     profile and a share of their own luck, scaled so that the robot's points
//     come to the total drawn. stats/game then says what the alliance is
//     credited with: caps, limits, bonuses, components, ranking points.
//
// Points that no action explains are drawn as the estimate's rest, points by
// fouls from their mean and variance at the event. What an alliance does as a
// whole (Action.By) is not known and is drawn as an even chance.
//
// While nobody watched, step 3 is left out. Components then follow from what
// official results had of them (contrib.Part), go up and down with the drawn
// score, and have the shape of the values seen; ranking points follow from them.
//
// Randomness is passed in. A Run draws with one source, in the same memory,
// without allocating:
//
//	run := simulate.New(fit).NewRun(rng)
//	for range runs {
//		run.DrawWorld()
//		for … { // every match of the weekend
//			o := run.Play(&red, &blue)
//			… o.Sides[0].Points, o.Sides[0].Ranking
//		}
//	}
//
// Common random numbers: a match takes the same numbers from the source, and as
// many, whoever plays and whatever a Lineup assumes of them. So two runs from
// equal sources differ by what differs in their lineups alone. Normal numbers
// are drawn exactly; uniform ones have 32 bits; counts are the share of a total,
// rounded up or down at random so that the mean holds, in the place of an exact
// sampler. It imports contrib, record and game.
package simulate

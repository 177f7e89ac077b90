// Package forecast tells what to expect of a match: each alliance's score with
// an 80 % interval, and the chances of red, of blue and of a tie, from a fit of
// contrib. The full covariance of the robots counts: what is not known of the
// level of all robots moves both alliances and cancels in the margin.
//
// Match is a closed form; Drawn takes the spread of scores and the chances of
// ranking points from draws of stats/simulate, with a source that is passed in.
//
// It never looks at the result of the match it forecasts, and reads no file and
// no clock. It imports simulate, contrib, record and game;
// backtest, cmd and api/engine import it. One example:
//
//	fit, err := contrib.Estimate(ev, contrib.Options{})
//	…
//	f, err := forecast.Match(fit, &ev.Matches[30])
package forecast

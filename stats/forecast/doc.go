// Package forecast tells what to expect of a match: each alliance's score with
// an 80 % interval, and the chances of red, of blue and of a tie, from a fit of
// contrib. The full covariance of the robots counts: what is not known of the
// level of all robots moves both alliances and cancels in the margin.
//
// It never looks at the result of the match it forecasts, reads no file and no
// clock and draws nothing at random. It imports contrib, record and game;
// backtest, cmd and api/engine import it. One example:
//
//	fit, err := contrib.Estimate(ev, contrib.Options{})
//	…
//	f, err := forecast.Match(fit, &ev.Matches[30])
package forecast

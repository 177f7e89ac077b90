// Package backtest walks through an event as if it were happening: each played
// match is forecast from what was known before it started, then revealed. It
// tells how good the forecasts were (Brier score, log loss, share of winners,
// error of the scores, coverage of the 80 % intervals).
//
// Nothing of a later match reaches a forecast: the estimate is made from an
// event that holds only what lies before. It reads no file and no clock. It
// imports forecast, contrib, record and game; cmd and api/engine import it.
// One example:
//
//	report, err := backtest.Run(ev, backtest.Options{From: 0.25})
//	fmt.Println(report.Summary.Brier)
package backtest

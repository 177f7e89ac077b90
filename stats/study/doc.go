// Package study measures estimators on invented events: forecasts of each, made
// as the event goes on, against what happens, beside the forecast of somebody
// who knows every robot (the oracle), and the error of the robots' points. The
// command `sextant backtest --seeds` prints it.
//
// The events come from package generate, which is not the model of the
// estimates. Differences between estimators are paired by event, so their
// standard errors are much smaller than those of the figures themselves.
//
// Check measures how many of the mistakes of scouts, those of the invented ones
// and some that are added (spoil.go), package check finds; Jumps which of
// the robots that change, Duties which of the scouts that tire.
//
// It knows no file and no clock; a seed is the only randomness. It imports
// generate, backtest, contrib, check, record and game; cmd imports it.
package study

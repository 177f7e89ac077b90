// Package rota says who watches which robot in which match, so that few scouts
// learn most: a record is worth what it takes off what is not known, where
// something hangs on it.
//
// Plan takes the matches ahead, the people with their shifts and breaks, and
// what is known of each robot (Know reads it from an estimate). It gives seats,
// each with the reason that weighs most. What is worth how much is said by
// Weights; Plan reports the loss term by term, so that two plans can be
// compared. The page rota.md says the objective in words and how much it helps,
// measured on invented events.
//
// Constraints are never broken: a shift, the matches in a row, the break after
// them, a robot that somebody does not want to watch. Within one match the
// choice is exact, by dynamic programming over sets of robots; over all matches
// it is a local search from there, so that it ends at a plan which no change of
// one match or of one break makes better.
//
// The package knows no clock, no file and no chance: the same request gives the
// same plan. It imports contrib and record; study, api/engine and cmd import it.
package rota

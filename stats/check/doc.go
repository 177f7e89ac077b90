// Package check tells which scouts' records to doubt, why, and what doubting
// them costs: seats that nobody watched, two records that disagree, rows of two
// robots that were exchanged, a row of another robot or another match, counts
// of the autonomous period in a later one, a counter that stuck, a record that
// fits nothing, a robot that was called absent and scored, and team numbers
// that nobody has.
//
// Every record is laid beside what its robot does in its other matches, action
// by action (profile.go), beside other records of the same robot in that match
// (same.go) and beside the official result of its alliance (totals.go). How
// much better each kind of mistake explains it than no mistake does (fault.go)
// and how often that mistake is made (prior.go) give its probability. What a
// mistake costs is how far the robot's contribution moves (effect.go).
//
// Robots that seem to be another since one of their matches are a question apart
// (jump.go): not a mistake of anybody, and worth a mark.
//
// The package never changes a record, and reads no file, no clock and no random
// source. It imports stats/contrib, stats/record and stats/game; cmd,
// stats/study and api/engine import it. One example:
//
//	fit, err := contrib.Estimate(ev, contrib.Options{})
//	report := check.Find(ev, fit, check.Options{})
//	worst := report.Suspects[0]
package check

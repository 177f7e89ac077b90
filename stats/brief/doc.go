// Package brief prepares a team for one match, scheduled or imagined: what each
// robot does, where partners get into each other's way, who should do what and
// what that gains, which opponent to defend against, and which ranking points
// are in reach.
//
// What a robot may do instead of playing its own game is a job: to defend
// against one opponent, or, where the game has something to hand over, to feed
// a partner. What a job is worth is an assumption (Assume), the same as that of
// forecast.Change; data say little about it. All assignments of jobs, and all
// line-ups of a larger alliance, are played through with common random numbers.
// The best is chosen on one set of draws and measured on another, so that its
// gain is not flattered by having been chosen; it is suggested only if its gain
// is more than twice its standard error. Two robots never defend against one
// opponent, which soon ends in a foul (common practice, no source); the event's
// own rules about contact go before any advice of this package.
//
// Randomness is passed in. It imports forecast, simulate, contrib, record and
// game; api/engine imports it. One example:
//
//	b, err := brief.New(engine, fit, ev, &brief.Request{Match: m, Ours: record.Red}, rng)
//	… b.Plan.Jobs, b.Plan.Win.Gain, b.Plan.Why
package brief

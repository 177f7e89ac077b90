// Package bracket is the playoff: who meets whom, what a result leads to, and
// how likely each alliance is to get how far.
//
// A Format is data: a list of series, each with where its two alliances come
// from, how many wins it takes and what place its loser ends at. Played says
// what the official results have decided. Given the chance of a game between
// any two alliances a Plan tells the chances of places and rounds exactly, by
// going through the courses of the playoff together where they meet in the
// same state; Walk follows one course; Simulate draws whole playoffs from an
// estimate, every match with its own luck, caps and breakdowns.
//
// A tied game is decided by the game's tie order of components, then played
// again. Formats are common practice without a source; an event's own rules go
// first. Randomness is passed in. It imports simulate, contrib, record and game.
//
//	f, err := bracket.FormatOf(g.Playoff, len(alliances))
//	plan, err := bracket.NewPlan(f, nil)
//	places := plan.Run(chances)
package bracket

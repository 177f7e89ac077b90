// Package standings ranks the robots of an event by the game file, and tells
// how the ranking may end: it plays the rest of the qualification many times
// and ranks every time.
//
// Current is the order as it is. Forecast gives an Outlook: for every robot the
// chance of each place, the chance to be a captain and the expected ranking
// points. For one robot, ours, it also keeps what was drawn together with where
// we ended, so that Outlook.Goal can say what any goal (a place or better)
// hangs on. Strength tells how hard schedules are.
//
// The ranking: qualification matches only, the last play of each. A match as a
// surrogate does not count. Who is disqualified from a match gets nothing of
// it, and it counts. A robot that is absent and not disqualified gets what its
// alliance gets. Figures are means per counted match, compared in the order of
// the game file's ranking_order, then by lot. (Common practice, no source.)
//
// The cost is runs × matches to come × (a drawn match + its conditions). 20,000
// runs of the last 40 % of an event of 60 robots and 120 matches take 1.7 s of
// processor time, 0.8 s on two cores; of 120 robots and 240 matches 2.4 times
// that; estimates and all forecasts before it add a tenth (deploy/bench
// ./stats/standings; measured as processor time on a busy machine).
//
// It looks at no clock and no file, and draws only from the seed it is given:
// the same seed gives the same, on any number of cores. It imports simulate,
// contrib, record and game; cmd, api/engine and study import it. One example:
//
//	fit, err := contrib.Estimate(ev, contrib.Options{})
//	…
//	o, err := standings.Forecast(ev, fit, standings.Options{Runs: 20000, Seed: 1, Team: "40117"})
//	fmt.Println(o.Goal(8).Chance)
package standings

// Package stats is the statistics of the program: from what a venue publishes
// and scouts write down to what each robot contributes, what to expect of the
// next match, and how good such forecasts were. The package itself has no code;
// its folders do. None of them knows a database, HTTP, a clock or a random
// source of its own, so that everything in it also runs from files alone and in
// a browser. cmd and api/engine import its folders.
//
// # The chain
//
//	game      the season's game file: points, caps, ranking points
//	record    plain types: event, match, observation, estimate, forecast
//	table     the CSV forms
//	contrib   contributions of robots: least squares, mixed model, fused
//	simulate  draws of matches: actions, caps, ranking points
//	forecast  a match: scores and chances
//	backtest  forecasts of a played event, and their scores
//	generate  invented events, for tests and the demo
//	study     estimators on invented events, beside who knows the truth
//
// # Symbols
//
//	θᵢ    what robot i adds to its own alliance's score in a match in which
//	      nothing stops it, in points; points received by fouls are not in it
//	m, μ  robots of an alliance; mean own score of an alliance
//	τ     standard deviation of θ between robots
//	φ, κ  of one robot's luck in one match; correlation of two partners' luck
//	b, r  relative bias of a scout; standard deviation of what it counts
//	δ, q  what all robots gain per match; how far one walks between two
//	ρ     the rest: what an alliance scores beyond its robots
//	w, w̄  share of a match that a robot could use; its expected value
//	s     mean own score per robot: the unit of all priors
//
// A contribution "over the event" is w̄·θ with all matches alike, "now" is w̄·θ
// with drift, walk and what marks say, "working" is that θ alone.
//
// # Sources
//
// Mixed model equations and BLUP: Henderson (1975), doi:10.2307/2529430;
// Robinson (1991), doi:10.1214/ss/1177011926. REML: Patterson and Thompson
// (1971), doi:10.1093/biomet/58.3.545; its profiled criterion: Bates, Mächler,
// Bolker, Walker (2015), doi:10.18637/jss.v067.i01. Multiple membership:
// Browne, Goldstein, Rasbash (2001), doi:10.1177/1471082X0100100202. Shrunken
// means: Efron and Morris (1975), doi:10.1080/01621459.1975.10479864. Scores of
// forecasts: Brier (1950), Murphy (1973). Calibration by simulation: Talts and
// others (2018), arXiv 1804.06788. The sources of algorithms stand where they
// are used. Citations are from memory; the numbers that tests check against
// are in testdata/reference, each with its source.
package stats

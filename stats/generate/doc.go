// Package generate invents a competition: teams, a balanced random schedule,
// what every robot does second by second, the official results, and what
// scouts wrote down with the mistakes that scouts make. The demo, the command
// `sextant simulate` and the tests of the estimates use it.
//
// It is a world of its own, on purpose not the model of the estimates. Robots
// drive cycles: fetch a piece, queue when a partner is at the same place,
// carry it, hit or miss; they choose what to do next, break down, learn, change
// overnight, defend, and leave in time for the end. Official results come
// from stats/game alone, so the generator knows no points rule. Numbers in it
// are plausible choices, not measurements of any real season.
//
// The result is a pure function of the game, the random source and the
// options. It knows no clock, no file and no database. It imports stats/game
// and stats/record; cmd and tests import it. One example:
//
//	w, err := generate.New(g, rand.New(rand.NewPCG(7, 0)), generate.Options{Teams: 48})
//	ev := w.Event(w.Matches()) // everything played
package generate

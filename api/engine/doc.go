// Package engine makes analyses (estimates and forecasts) of what the store
// holds, when it has changed, and keeps them.
//
// An analysis is a pure function of the event's data number, the engine's
// version and the options, so it is computed once per change and process, off
// the request path, and kept in memory and in the store under that key. Two
// processes need nothing from each other. The estimates are told of before
// anything is made of them; standings come as a first picture of few runs, and
// whole after a pause in which others have the cores. It knows no HTTP. Only api and cmd
// import it; it imports store and stats. One example:
//
//	eng := engine.New(engine.Options{Store: db, Logger: logger, Settle: 25 * time.Millisecond, Pause: time.Second})
//	defer eng.Close()
//	a, current, err := eng.Analysis(ctx, event)
package engine

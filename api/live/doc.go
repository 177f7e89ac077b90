// Package live tells the browsers that are connected to this process that
// something has changed.
//
// It carries numbers only, never data. What it knows comes from outside: the
// store follows the change numbers of those events that somebody listens to,
// also when another process changed them, so several processes on one database
// need nothing from each other. Only api and cmd import it. One example:
//
//	hub := live.New(logger)
//	go db.Follow(ctx, 2*time.Second, hub.Wanted, hub.Moved)
//	sub := hub.Subscribe(event)
//	defer sub.Close()
//	for m := range sub.C { … }
package live

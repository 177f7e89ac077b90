// Package live tells the browsers that are connected to this process that
// something has changed.
//
// It carries numbers only, never data. What it knows comes from hints (the
// database's notifications) and from asking for the last change number of each
// event that somebody listens to, so that several processes on one database
// need nothing from each other. Only api and cmd import it. One example:
//
//	hub := live.New(live.Options{Last: db.ChangeNo, Poll: 2 * time.Second})
//	go hub.Run(ctx)
//	sub := hub.Subscribe(event)
//	defer sub.Close()
//	for m := range sub.C { … }
package live

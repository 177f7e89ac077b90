// Package store keeps accounts, events and everything people enter in
// PostgreSQL. It is the only package that speaks SQL.
//
// Three ideas carry it. Records are append-only revisions: Append keeps what
// arrives and derives, by record.Resolve, which revision counts. Every write
// takes numbers from its event's counter as the last statement of its
// transaction: that is the feed, which Since reads and in which no reader ever
// sees a gap. And nothing here knows HTTP, estimates or screens: Load hands
// out a *record.Event and what is made of it is somebody else's work.
//
// All methods of DB may be called concurrently. Each is one transaction unless
// it says otherwise, and is repeated by itself after a deadlock or a
// serialization failure. Errors wrap the sentinels of errors.go. cmd, api and
// tests may import the package; it imports stats/game, stats/record and
// migrations.
//
//	db, err := store.Open(ctx, url, store.Options{Logger: logger})
//	…
//	defer db.Close()
//	outcomes, changeNo, err := db.Append(ctx, event, incoming)
package store

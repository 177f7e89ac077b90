// Package localpg runs a private PostgreSQL for one process: on a laptop with
// no database server, and in tests. It finds the binaries, makes the data
// folder the first time, starts the server as a child that listens on a socket
// in that folder (or on loopback) and stops it.
//
// It never deletes a data folder, and never starts a server of another major
// version in one: it says what to do instead. It downloads nothing. cmd and
// store/storetest may import it; it imports nothing of the project.
//
//	srv, err := localpg.Start(ctx, localpg.Options{DataDir: dir})
//	…
//	defer srv.Stop(context.Background())
//	db, err := store.Open(ctx, srv.URL(), store.Options{})
package localpg

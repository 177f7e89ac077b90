// Package api is the server's HTTP side: typed operations under /api, live
// updates, the page that shows the API, and the embedded web app.
//
// A handler binds and checks its input, makes one call to the store, to
// api/engine or to api/transfer and answers with plain types. It knows no SQL and does no
// arithmetic; only errors.go knows status codes, and who may call what stands
// in the table of api/auth. Only cmd imports this package. One example:
//
//	srv, err := api.New(api.Options{Store: db, Logger: logger})
//	…
//	http.Serve(listener, srv.Handler())
package api

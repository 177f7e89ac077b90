// Package transfer moves the tables of an event (teams, schedule with results,
// observations, marks, pick lists) between the store and CSV files. It holds
// what is the same for the API and the command line.
//
// It says what is wrong with a file as table.Errors, each with its place, and
// then writes nothing. It knows no HTTP, no roles and no command line: who may
// do this, and what an error means there, is the caller's. Only api and cmd
// import it; it imports store and stats. One example:
//
//	csv, err := transfer.Table(ctx, db, event, transfer.Observations, uuid.Nil, store.Redaction{})
//	…
//	done, err := transfer.Import(ctx, db, other, transfer.File{Table: transfer.Observations, Name: "observations.csv", Body: csv, By: by})
package transfer

// Package migrations holds the steps that build the database, in order, as
// golang-migrate reads them: NUMBER_name.up.sql and NUMBER_name.down.sql.
// Package store runs them; nothing else imports this package. A step that has
// been released is never edited: write the next one.
package migrations

import "embed"

// Files has one up and one down file for each step.
//
//go:embed *.sql
var Files embed.FS

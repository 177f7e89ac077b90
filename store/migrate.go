package store

import (
	"context"
	"errors"
)

// errUnfinished marks methods that are being written.
var errUnfinished = errors.New("not written yet")

// Migrate brings the database at url (postgres://…) to the newest form. It may
// be repeated, and run by several processes at once.
func Migrate(ctx context.Context, url string) (err error) { return errUnfinished }

// MigrateDown takes the database at url back to empty: everything in it is lost.
func MigrateDown(ctx context.Context, url string) (err error) { return errUnfinished }

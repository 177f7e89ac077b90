package store

import (
	"context"
	"io"

	"github.com/google/uuid"
)

// ExportNDJSON writes everything about an event, one JSON value a line, from
// one snapshot: game, settings, teams, schedule, members, revisions, feed and
// audit, with all ids. Password hashes, codes and sessions are not in it.
// ErrNotFound: no such event; nothing was written then.
func (db *DB) ExportNDJSON(ctx context.Context, event uuid.UUID, w io.Writer) (err error) {
	return errUnfinished
}

// Import says what ImportNDJSON makes of a file.
type Import struct {
	// Into is the event that takes over the revisions and missing members of the
	// file, which must be an export of that same event; game, teams and schedule
	// stay as they are. Zero: the event of the file is made anew.
	Into uuid.UUID
	// AccountID becomes a lead of an event that is made anew: the lead in the
	// file of that Nickname, else a new one. Zero: nobody.
	AccountID uuid.UUID
	Nickname  string
	DryRun    bool // tell what would be done, and do nothing
}

// Imported says what ImportNDJSON did, or would do.
type Imported struct {
	Event     Event
	Members   int // new ones
	Revisions int // new ones
	Known     int // revisions that were here already
	Refused   []Outcome
}

// LineError is a line of a file that cannot be read.
type LineError struct {
	Line    int // from 1
	Message string
}

func (e *LineError) Error() string { return e.Message }

// ImportNDJSON restores what ExportNDJSON wrote, in one transaction: all or
// nothing. Change numbers are kept, and a gap follows them, so that a device
// that saw later ones is told to start again. *LineError: a line cannot be
// read; ErrExists: the event is here and Into is zero; ErrInvalid: Into is
// another event; ErrNotFound: Into or the account does not exist.
func (db *DB) ImportNDJSON(ctx context.Context, r io.Reader, how Import) (_ Imported, err error) {
	return Imported{}, errUnfinished
}

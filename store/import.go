package store

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

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

// ImportNDJSON restores what ExportNDJSON wrote, in one transaction: all or
// nothing. Change numbers are kept, and a gap follows them, so that a device
// that saw later ones is told to start again. *LineError: a line cannot be
// read; ErrExists: the event is here and Into is zero; ErrInvalid: Into is
// another event; ErrNotFound: Into or the account does not exist.
func (db *DB) ImportNDJSON(ctx context.Context, r io.Reader, how Import) (done Imported, err error) {
	defer wrap(&err, "import an event")
	f, err := readExport(r)
	if err != nil {
		return Imported{}, err
	}
	if how.Into != uuid.Nil && how.Into != f.head.EventID {
		return Imported{}, fmt.Errorf("%w: the file is an export of another event, %q (%s)", ErrInvalid, f.event.Name, f.head.EventID)
	}
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		if how.Into != uuid.Nil {
			done, err = db.merge(ctx, tx, f)
		} else {
			done, err = db.restore(ctx, tx, f, how)
		}
		if err == nil && how.DryRun {
			err = errDryRun
		}
		return err
	})
	if errors.Is(err, errDryRun) {
		return done, nil
	}
	if err != nil {
		return Imported{}, err
	}
	db.hints.add(done.Event.ID)
	return done, nil
}

// merge takes the revisions of a file over into the event that is there.
func (db *DB) merge(ctx context.Context, tx pgx.Tx, f *exportFile) (Imported, error) {
	event := f.head.EventID
	var done Imported
	if _, err := readChangeNo(ctx, tx, event); err != nil {
		return done, err
	}
	added, err := db.mergeMembers(ctx, tx, f)
	if err != nil {
		return done, err
	}
	done.Members = added
	if err := f.writeBlobs(ctx, tx); err != nil {
		return done, err
	}
	items := make([]Incoming, len(f.revisions))
	for i, l := range f.revisions {
		items[i] = Incoming{Revision: l.Revision, Via: "import"}
		if l.MemberID != nil {
			items[i].MemberID = *l.MemberID
		}
	}
	in, err := takeIn(ctx, tx, event, items)
	if err != nil {
		return done, err
	}
	for _, o := range in.outcomes {
		switch o.Verdict {
		case Stored:
			done.Revisions++
		case Known:
			done.Known++
		case Refused:
			done.Refused = append(done.Refused, o)
		}
	}
	if added > 0 {
		in.changes = append(in.changes, membersChanged...)
	}
	if _, err := db.publish(ctx, tx, event, in.moved, in.changes); err != nil {
		return done, err
	}
	done.Event, err = readEvent(ctx, tx, event)
	return done, err
}

// mergeMembers adds the members that are not here. One whose nickname has been
// taken since is kept as one who left.
func (db *DB) mergeMembers(ctx context.Context, tx pgx.Tx, f *exportFile) (int, error) {
	added := 0
	for _, m := range f.members {
		tag, err := tx.Exec(ctx, `
			insert into member (event_id, member_id, role, nickname, device_id, made_at, removed_at)
			select $1, $2, $3, $4, nullif($5, ''), $6,
				case when exists (
					select from member
					where event_id = $1 and lower(nickname) = lower($4) and removed_at is null
				) then coalesce($7::timestamptz, $8::timestamptz) else $7::timestamptz end
			on conflict (event_id, member_id) do nothing`,
			f.head.EventID, m.MemberID, m.Role, m.Nickname, m.DeviceID, m.MadeAt, m.RemovedAt, db.clock())
		if err != nil {
			return 0, err
		}
		added += int(tag.RowsAffected())
	}
	return added, nil
}

// writeBlobs adds the pictures of a file; those that are here stay.
func (f *exportFile) writeBlobs(ctx context.Context, tx pgx.Tx) error {
	for i := range f.blobs {
		l := &f.blobs[i]
		id, _ := l.digest() // was checked when the line was read
		if err := insertBlob(ctx, tx, f.head.EventID, id, l.Media, l.Bytes, l.MadeAt); err != nil {
			return err
		}
	}
	return nil
}

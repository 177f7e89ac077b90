package store

import (
	"context"
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// Incoming is a revision that comes in by some door. Author is the nickname,
// Role the role that the person has at the door.
type Incoming struct {
	record.Revision
	MemberID uuid.UUID // who that is, for "own records"; zero: not known here
	Via      string    // the door: "sync", "import", "form", …
}

// Verdict says what became of an incoming revision.
type Verdict string

// The three verdicts.
const (
	Stored  Verdict = "stored"
	Known   Verdict = "known" // it was here already
	Refused Verdict = "refused"
)

// Outcome is what became of one incoming revision.
type Outcome struct {
	RevisionID uuid.UUID
	Verdict    Verdict
	Reason     string // a sentence for people; only with Refused
}

// Record is what the revisions of one record say together.
type Record struct {
	ID       uuid.UUID
	Kind     string
	Head     uuid.UUID
	Heads    []uuid.UUID // the one that counts first
	Conflict bool
	Owner    uuid.UUID      // the scout whose own record it is; zero: nobody's
	Match    record.MatchID // that the body names; zero: none
	Team     record.TeamID  // that the body names; empty: none
	Author   string         // of the head
	Role     record.Role    // of the head
	MadeAt   time.Time      // of the head
	Body     json.RawMessage
}

// Filter says which records are wanted; zero members do not restrict.
type Filter struct {
	Kind  string
	Match record.MatchID
	Team  record.TeamID
	Owner uuid.UUID // a scout's own records
}

// Kept is a revision as it is kept.
type Kept struct {
	record.Revision
	MemberID   uuid.UUID // zero: not known here
	ReceivedAt time.Time
	Via        string
	ChangeNo   int64
}

// Append stores revisions of an event and derives the records anew. It may be
// repeated: what is here already is Known. Outcomes are in the order of items.
// changeNo is the event's last change number afterwards; the new revisions have
// one range of numbers. Bodies are the caller's to check; what the database
// cannot keep is refused, item by item. A record belongs to the scout whose
// revision of it came first.
// ErrNotFound: no such event; ErrInvalid: MemberID is no member of it.
func (db *DB) Append(ctx context.Context, event uuid.UUID, items []Incoming) (_ []Outcome, changeNo int64, err error) {
	return nil, 0, errUnfinished
}

// Records lists records by kind, match, team and id.
func (db *DB) Records(ctx context.Context, event uuid.UUID, f Filter) (_ []Record, err error) {
	return nil, errUnfinished
}

// Record reads one record. ErrNotFound.
func (db *DB) Record(ctx context.Context, event, id uuid.UUID) (_ Record, err error) {
	return Record{}, errUnfinished
}

// Revisions lists all revisions of a record as they arrived. ErrNotFound: none.
func (db *DB) Revisions(ctx context.Context, event, id uuid.UUID) (_ []Kept, err error) {
	return nil, errUnfinished
}

// Rebuild derives all records of an event anew from their revisions.
func (db *DB) Rebuild(ctx context.Context, event uuid.UUID) (err error) { return errUnfinished }

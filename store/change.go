package store

import (
	"context"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// The kinds of change in the feed. "record" carries the revision; the others
// say what to fetch again.
const (
	ChangeRecord  = "record"
	ChangeEvent   = "event"
	ChangeGame    = "game"
	ChangeTeams   = "teams"
	ChangeMatches = "matches"
	ChangeMembers = "members"
)

// FeedItem is one change.
type FeedItem struct {
	ChangeNo int64
	Kind     string
	RecordID uuid.UUID        // zero unless Kind is "record"
	Revision *record.Revision // nil unless Kind is "record"
}

// Viewer is who reads the feed. A scout sees the own records and what is for
// all; lead and coach see everything; any other role what is for all.
type Viewer struct {
	Role     record.Role
	MemberID uuid.UUID
}

// Since lists what changed after a change number, oldest first, at most limit
// items (1 to 1000; anything else is 500). next is what to ask with the next
// time; while items is not empty there may be more. reset: after is not a
// number that this database gave (the event was restored): items is empty,
// start again at 0. ErrNotFound: no such event.
func (db *DB) Since(ctx context.Context, event uuid.UUID, after int64, limit int, viewer Viewer) (items []FeedItem, next int64, reset bool, err error) {
	return nil, 0, false, errUnfinished
}

// ChangeNo reads the last change number of an event. ErrNotFound.
func (db *DB) ChangeNo(ctx context.Context, event uuid.UUID) (_ int64, err error) {
	return 0, errUnfinished
}

// ChangeNos reads the last change numbers of several events; one that does not
// exist is left out.
func (db *DB) ChangeNos(ctx context.Context, events []uuid.UUID) (_ map[uuid.UUID]int64, err error) {
	return nil, errUnfinished
}

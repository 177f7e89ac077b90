package store

import (
	"context"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// Replace says how a whole table is written.
type Replace struct {
	IfVersion *int64 // nil: whatever is there; else ErrStale unless that is the version
	DryRun    bool   // tell what would change, and change nothing
}

// Replaced says what a write of a whole table did, or would do.
type Replaced struct {
	Added, Changed, Removed int
	ChangeNo                int64 // the event's last change number after it
}

// Teams lists the teams of an event in order of number, with the change number
// of the list for ETag and If-Match. ErrNotFound: no such event.
func (db *DB) Teams(ctx context.Context, event uuid.UUID) (_ []record.Team, version int64, err error) {
	return nil, 0, errUnfinished
}

// ReplaceTeams writes the team list. A list that is the same makes no entry in
// the feed. ErrNotFound; ErrStale; ErrConflict: a team that is in the schedule
// would go; ErrInvalid: a team is twice in the list or no team number.
func (db *DB) ReplaceTeams(ctx context.Context, event uuid.UUID, teams []record.Team, how Replace) (_ Replaced, err error) {
	return Replaced{}, errUnfinished
}

// Schedule lists all plays of all matches in playing order, with the results
// that count now. Times are in the event's zone. version is the change number
// of the schedule alone: results move DataNo of the event, not this.
// ErrNotFound: no such event.
func (db *DB) Schedule(ctx context.Context, event uuid.UUID) (_ []record.Match, version int64, err error) {
	return nil, 0, errUnfinished
}

// ReplaceSchedule writes the schedule and stores, in the same transaction, the
// results that came with it (see ResultRevisions). Results in matches are not
// read. A match that is not in matches goes; its records stay and count again
// when it comes back. A schedule that is the same makes no entry in the feed.
// Replaced counts plays of matches whose line-up or time differs, and results
// that are stored. ErrNotFound; ErrStale; ErrInvalid: a team is not in the
// list, twice in a match, or a match is twice in the schedule.
func (db *DB) ReplaceSchedule(ctx context.Context, event uuid.UUID, matches []record.Match, results []Incoming, how Replace) (_ Replaced, err error) {
	return Replaced{}, errUnfinished
}

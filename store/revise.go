package store

import (
	"context"
	"encoding/json"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// By says who revises records, and by which door.
type By struct {
	Author   string // nickname
	MemberID uuid.UUID
	Role     record.Role
	DeviceID string
	Via      string
}

// Draft is a record as it should be. Body is the whole body, of merged kinds
// too; a member that is missing from it is left as it is there.
type Draft struct {
	RecordID uuid.UUID
	Kind     string
	Body     json.RawMessage
}

// Revise turns drafts into the revisions that make the records so, each built
// upon all present heads. A draft that says what the record says makes none.
// Nothing is stored: give the revisions to Append.
func (db *DB) Revise(ctx context.Context, event uuid.UUID, drafts []Draft, by By) (_ []Incoming, _ Replaced, err error) {
	return nil, Replaced{}, errUnfinished
}

// ObservationRevisions turns rows of a file into revisions against the records
// that are there. A row's identity is match, play, team and scout. A row that
// says what the record says makes no revision; a file cannot hold a timeline,
// so that is kept, and counts which then differ from it are marked as edited.
// Two rows of one identity are ErrInvalid. Nothing is stored.
func (db *DB) ObservationRevisions(ctx context.Context, event uuid.UUID, rows []record.Observation, by By) (_ []Incoming, _ Replaced, err error) {
	return nil, Replaced{}, errUnfinished
}

// ResultRevisions turns the results of matches into revisions. A match without
// a result says nothing about one that is there. Nothing is stored: give them
// to ReplaceSchedule or Append.
func (db *DB) ResultRevisions(ctx context.Context, event uuid.UUID, matches []record.Match, by By) (_ []Incoming, _ Replaced, err error) {
	return nil, Replaced{}, errUnfinished
}

// MarkRevisions turns rows of a file into revisions. A row's identity is team,
// match and kind; the same one twice in rows is ErrInvalid. Nothing is stored.
func (db *DB) MarkRevisions(ctx context.Context, event uuid.UUID, rows []record.Mark, by By) (_ []Incoming, _ Replaced, err error) {
	return nil, Replaced{}, errUnfinished
}

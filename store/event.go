package store

import (
	"context"
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// Event is one team's view of one competition.
type Event struct {
	ID        uuid.UUID
	Name      string
	Zone      string // IANA time zone
	OurTeam   record.TeamID
	GameHash  string          // SHA-256 of the game file, in hexadecimal
	Overrides json.RawMessage // the event's own settings (event.json), an object
	ChangeNo  int64           // the last number of the feed
	DataNo    int64           // moves when game, overrides, our team, set of teams, schedule, results, observations or marks change
	Version   int64           // change number of the last change of the event or its game; for ETag and If-Match
	MadeAt    time.Time
	EndedAt   *time.Time // nil: goes on
}

// NewEvent is what CreateEvent needs.
type NewEvent struct {
	Name      string
	Zone      string
	OurTeam   record.TeamID   // empty: not said
	GameBody  json.RawMessage // the game file, checked by the caller
	Overrides json.RawMessage // event.json; nil: none
	AccountID *uuid.UUID      // the lead's account; nil: a lead without one
	Nickname  string          // the lead's at this event
}

// EventOfMember is an event with what its reader is there.
type EventOfMember struct {
	Event    Event
	MemberID uuid.UUID
	Role     record.Role
	Nickname string
}

// EventPatch names what UpdateEvent changes; nil leaves as it is.
type EventPatch struct {
	Name      *string
	Zone      *string
	OurTeam   *record.TeamID
	Overrides json.RawMessage
	Ended     *bool
}

// CreateEvent makes an event and its lead. Ids are UUIDv7.
func (db *DB) CreateEvent(ctx context.Context, n NewEvent) (_ Event, _ Member, err error) {
	return Event{}, Member{}, errUnfinished
}

// Event reads one event. ErrNotFound.
func (db *DB) Event(ctx context.Context, id uuid.UUID) (_ Event, err error) {
	return Event{}, errUnfinished
}

// Events lists the events where an account is a member, newest first.
func (db *DB) Events(ctx context.Context, accountID uuid.UUID) (_ []EventOfMember, err error) {
	return nil, errUnfinished
}

// UpdateEvent changes an event. A patch that changes nothing makes no entry in
// the feed. ErrNotFound; ErrStale: ifVersion is set and not Event.Version.
func (db *DB) UpdateEvent(ctx context.Context, id uuid.UUID, p EventPatch, ifVersion *int64) (_ Event, err error) {
	return Event{}, errUnfinished
}

// Game reads the game file of an event, as it was given, and its hash. ErrNotFound.
func (db *DB) Game(ctx context.Context, id uuid.UUID) (body json.RawMessage, hash string, err error) {
	return nil, "", errUnfinished
}

// SetGame replaces the game file of an event, which the caller has checked.
// ErrNotFound; ErrStale: ifHash is not empty and not the present one.
func (db *DB) SetGame(ctx context.Context, id uuid.UUID, body json.RawMessage, ifHash string) (_ Event, err error) {
	return Event{}, errUnfinished
}

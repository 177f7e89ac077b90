package store

import (
	"context"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// Member is somebody who takes part in an event.
type Member struct {
	ID        uuid.UUID
	AccountID *uuid.UUID // nil: joined by a code
	Role      record.Role
	Nickname  string // unique among the members of the event, upper and lower case being the same
	DeviceID  string // that joined by a code; empty: none yet
	MadeAt    time.Time
}

// NewMember is what AddMember needs.
type NewMember struct {
	AccountID *uuid.UUID
	Role      record.Role
	Nickname  string
}

// AddMember adds somebody to an event. ErrNotFound: no such event or account;
// ErrExists: the nickname is taken, or the account is a member.
func (db *DB) AddMember(ctx context.Context, event uuid.UUID, n NewMember) (_ Member, err error) {
	return Member{}, errUnfinished
}

// Members lists the members of an event who have not been removed, by nickname.
func (db *DB) Members(ctx context.Context, event uuid.UUID) (_ []Member, err error) {
	return nil, errUnfinished
}

// MemberOfAccount finds who an account is at an event. ErrNotFound: no member.
func (db *DB) MemberOfAccount(ctx context.Context, event, account uuid.UUID) (_ Member, err error) {
	return Member{}, errUnfinished
}

// RenameMember changes a nickname. Records keep the name they were made under.
// ErrNotFound; ErrExists: the nickname is taken.
func (db *DB) RenameMember(ctx context.Context, event, member uuid.UUID, nickname string) (_ Member, err error) {
	return Member{}, errUnfinished
}

// RemoveMember ends somebody's part in an event: all sessions end and the
// nickname is free. Records stay. ErrNotFound; ErrConflict: the last lead.
func (db *DB) RemoveMember(ctx context.Context, event, member uuid.UUID) (err error) {
	return errUnfinished
}

// Code lets people join an event. Only its hash is kept.
type Code struct {
	ID        uuid.UUID
	Role      record.Role // of who joins
	Label     string
	ExpiresAt time.Time
	RevokedAt *time.Time
	UsesLeft  *int // nil: not limited
	MadeAt    time.Time
}

// NewCode is what CreateCode needs.
type NewCode struct {
	Hash      []byte
	Role      record.Role
	Label     string
	ExpiresAt time.Time
	Uses      *int // nil: not limited
}

// CreateCode makes a code. ErrNotFound: no such event; ErrExists: the same hash.
func (db *DB) CreateCode(ctx context.Context, event uuid.UUID, n NewCode) (_ Code, err error) {
	return Code{}, errUnfinished
}

// Codes lists the codes of an event, also those that ended, newest first.
func (db *DB) Codes(ctx context.Context, event uuid.UUID) (_ []Code, err error) {
	return nil, errUnfinished
}

// RevokeCode ends a code. Who joined by it stays. ErrNotFound.
func (db *DB) RevokeCode(ctx context.Context, event, code uuid.UUID) (err error) {
	return errUnfinished
}

// Redemption is somebody with a code who joins an event.
type Redemption struct {
	CodeHash  []byte
	Nickname  string
	DeviceID  string    // made by the device; it alone may come back under the same nickname
	TokenHash []byte    // of the session that is made
	ExpiresAt time.Time // of the session
}

// RedeemCode uses a code once: in one transaction it counts the use, makes the
// member (or, on the same device and with the same role, finds it again) and
// its session. ErrNotFound: no such code; ErrGone: the code ended, was revoked
// or used up, or the event ended; ErrExists: the nickname belongs to another
// device, role or account. On an error nothing was used.
func (db *DB) RedeemCode(ctx context.Context, r Redemption) (_ Event, _ Member, err error) {
	return Event{}, Member{}, errUnfinished
}

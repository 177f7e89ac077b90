package store

import (
	"context"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// Session is a signed-in browser. Only the hash of its token is kept.
type Session struct {
	EventID   uuid.UUID   // zero: an account's own session
	MemberID  uuid.UUID   // zero with an account's own session
	AccountID uuid.UUID   // zero with a member's session
	Role      record.Role // empty with an account's own session
	Nickname  string      // the member's, or the account's name
	DeviceID  string
	ExpiresAt time.Time
}

// NewSession is what CreateSession needs: either an account, or an event and a member.
type NewSession struct {
	EventID   uuid.UUID
	MemberID  uuid.UUID
	AccountID uuid.UUID
	TokenHash []byte
	DeviceID  string
	ExpiresAt time.Time
}

// CreateSession starts a session. ErrNotFound: no such account or member.
func (db *DB) CreateSession(ctx context.Context, n NewSession) (_ Session, err error) {
	return Session{}, errUnfinished
}

// Session finds a session by its event (zero: an account's own) and token.
// ErrNotFound: there is none that is valid now.
func (db *DB) Session(ctx context.Context, event uuid.UUID, tokenHash []byte) (_ Session, err error) {
	return Session{}, errUnfinished
}

// RevokeSession ends one session; one that is not there is no error.
func (db *DB) RevokeSession(ctx context.Context, event uuid.UUID, tokenHash []byte) (err error) {
	return errUnfinished
}

// RevokeSessionsOf ends all sessions of a member.
func (db *DB) RevokeSessionsOf(ctx context.Context, event, member uuid.UUID) (err error) {
	return errUnfinished
}

package store

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

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
	EventID    uuid.UUID
	MemberID   uuid.UUID
	AccountID  uuid.UUID
	TokenHash  []byte
	DeviceID   string
	DeviceKind string // in words, coarsely: "iPad"; empty: not known
	ExpiresAt  time.Time
}

// Device is a browser that is signed in to an event.
type Device struct {
	MemberID   uuid.UUID `db:"member_id"`
	Kind       string    `db:"device_kind"` // in words, coarsely; empty: not known
	SignedInAt time.Time `db:"made_at"`
	LastSeenAt time.Time `db:"last_seen_at"` // to about a minute
}

// seenEvery is how old LastSeenAt may be before it is written again.
const seenEvery = time.Minute

// CreateSession starts a session. ErrNotFound: no such account or member.
func (db *DB) CreateSession(ctx context.Context, n NewSession) (s Session, err error) {
	defer wrap(&err, "start a session")
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		if s, err = db.createSession(ctx, tx, n); err != nil {
			return err
		}
		// Nobody signs out of a forgotten tablet, so old rows go here.
		_, err = tx.Exec(ctx, `delete from session where event_id = $1 and expires_at < $2`, n.EventID, db.clock())
		return err
	})
	return s, err
}

func (db *DB) createSession(ctx context.Context, q querier, n NewSession) (Session, error) {
	s := Session{
		EventID: n.EventID, MemberID: n.MemberID, AccountID: n.AccountID,
		DeviceID: n.DeviceID, ExpiresAt: n.ExpiresAt,
	}
	if n.EventID == uuid.Nil {
		err := q.QueryRow(ctx, `
			insert into session (event_id, token_hash, account_id, device_id, made_at, expires_at, device_kind, last_seen_at)
			select $1, $2, id, $4, $5, $6, $7, $5
			from account
			where id = $3
			returning (select name from account where id = $3)`,
			n.EventID, n.TokenHash, n.AccountID, n.DeviceID, db.clock(), n.ExpiresAt, n.DeviceKind).Scan(&s.Nickname)
		return s, err
	}
	err := q.QueryRow(ctx, `
		with who as (
			select event_id, member_id, role, nickname
			from member
			where event_id = $1 and member_id = $3 and removed_at is null
		), made as (
			insert into session (event_id, token_hash, member_id, device_id, role, made_at, expires_at, device_kind, last_seen_at)
			select event_id, $2, member_id, $4, role, $5, $6, $7, $5
			from who
		)
		select role, nickname
		from who`,
		n.EventID, n.TokenHash, n.MemberID, n.DeviceID, db.clock(), n.ExpiresAt, n.DeviceKind).Scan(&s.Role, &s.Nickname)
	return s, err
}

// Session finds a session by its event (zero: an account's own) and token, and
// notes once a minute that its device was heard of. ErrNotFound: there is none
// that is valid now.
func (db *DB) Session(ctx context.Context, event uuid.UUID, tokenHash []byte) (s Session, err error) {
	defer wrap(&err, "find a session")
	s.EventID = event
	now := db.clock()
	var seen *time.Time
	err = db.pool.QueryRow(ctx, `
		select
			coalesce(s.member_id, $4),
			coalesce(s.account_id, $4),
			coalesce(s.role, ''),
			coalesce(m.nickname, a.name),
			s.device_id,
			s.expires_at,
			s.last_seen_at
		from session s
		left join member m on m.event_id = s.event_id and m.member_id = s.member_id
		left join account a on a.id = s.account_id
		where s.event_id = $1
			and s.token_hash = $2
			and s.revoked_at is null
			and s.expires_at > $3
			and m.removed_at is null`,
		event, tokenHash, now, uuid.Nil).
		Scan(&s.MemberID, &s.AccountID, &s.Role, &s.Nickname, &s.DeviceID, &s.ExpiresAt, &seen)
	if err != nil {
		return Session{}, err
	}
	if seen != nil && now.Sub(*seen) < seenEvery {
		return s, nil
	}
	// Of requests that come at once one writes.
	_, err = db.pool.Exec(ctx, `
		update session
		set last_seen_at = $3
		where event_id = $1 and token_hash = $2 and last_seen_at is not distinct from $4`, event, tokenHash, now, seen)
	if err != nil {
		return Session{}, err
	}
	return s, nil
}

// Devices lists the browsers that are signed in to an event by a code or by
// the password of an account that takes part, the last seen first.
func (db *DB) Devices(ctx context.Context, event uuid.UUID) (_ []Device, err error) {
	defer wrap(&err, "list the devices of event %s", event)
	rows, err := db.pool.Query(ctx, `
		select
			m.member_id,
			s.device_kind,
			s.made_at,
			coalesce(s.last_seen_at, s.made_at) as last_seen_at
		from member m
		join session s on s.event_id = $1 and s.member_id = m.member_id
			or s.event_id = $3 and s.account_id = m.account_id
		where m.event_id = $1
			and m.removed_at is null
			and s.revoked_at is null
			and s.expires_at > $2
		order by 4 desc, s.token_hash`, event, db.clock(), uuid.Nil)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByName[Device])
}

// RevokeSession ends one session; one that is not there is no error.
func (db *DB) RevokeSession(ctx context.Context, event uuid.UUID, tokenHash []byte) (err error) {
	defer wrap(&err, "end a session")
	_, err = db.pool.Exec(ctx, `
		update session
		set revoked_at = $3
		where event_id = $1 and token_hash = $2 and revoked_at is null`, event, tokenHash, db.clock())
	return err
}

// RevokeSessionsOf ends all sessions of a member.
func (db *DB) RevokeSessionsOf(ctx context.Context, event, member uuid.UUID) (err error) {
	defer wrap(&err, "end the sessions of member %s", member)
	return db.revokeSessionsOf(ctx, db.pool, event, member)
}

func (db *DB) revokeSessionsOf(ctx context.Context, q querier, event, member uuid.UUID) error {
	_, err := q.Exec(ctx, `
		update session
		set revoked_at = $3
		where event_id = $1 and member_id = $2 and revoked_at is null`, event, member, db.clock())
	return err
}

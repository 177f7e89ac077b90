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
	EventID   uuid.UUID
	MemberID  uuid.UUID
	AccountID uuid.UUID
	TokenHash []byte
	DeviceID  string
	ExpiresAt time.Time
}

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
			insert into session (event_id, token_hash, account_id, device_id, made_at, expires_at)
			select $1, $2, id, $4, $5, $6
			from account
			where id = $3
			returning (select name from account where id = $3)`,
			n.EventID, n.TokenHash, n.AccountID, n.DeviceID, db.clock(), n.ExpiresAt).Scan(&s.Nickname)
		return s, err
	}
	err := q.QueryRow(ctx, `
		with who as (
			select event_id, member_id, role, nickname
			from member
			where event_id = $1 and member_id = $3 and removed_at is null
		), made as (
			insert into session (event_id, token_hash, member_id, device_id, role, made_at, expires_at)
			select event_id, $2, member_id, $4, role, $5, $6
			from who
		)
		select role, nickname
		from who`,
		n.EventID, n.TokenHash, n.MemberID, n.DeviceID, db.clock(), n.ExpiresAt).Scan(&s.Role, &s.Nickname)
	return s, err
}

// Session finds a session by its event (zero: an account's own) and token.
// ErrNotFound: there is none that is valid now.
func (db *DB) Session(ctx context.Context, event uuid.UUID, tokenHash []byte) (s Session, err error) {
	defer wrap(&err, "find a session")
	s.EventID = event
	err = db.pool.QueryRow(ctx, `
		select
			coalesce(s.member_id, $4),
			coalesce(s.account_id, $4),
			coalesce(s.role, ''),
			coalesce(m.nickname, a.name),
			s.device_id,
			s.expires_at
		from session s
		left join member m on m.event_id = s.event_id and m.member_id = s.member_id
		left join account a on a.id = s.account_id
		where s.event_id = $1
			and s.token_hash = $2
			and s.revoked_at is null
			and s.expires_at > $3
			and m.removed_at is null`,
		event, tokenHash, db.clock(), uuid.Nil).
		Scan(&s.MemberID, &s.AccountID, &s.Role, &s.Nickname, &s.DeviceID, &s.ExpiresAt)
	if err != nil {
		return Session{}, err
	}
	return s, nil
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

package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// Code lets people join an event. Only its hash is kept.
type Code struct {
	ID        uuid.UUID   `db:"code_id"`
	Role      record.Role `db:"role"` // of who joins
	Label     string      `db:"label"`
	ExpiresAt time.Time   `db:"expires_at"`
	RevokedAt *time.Time  `db:"revoked_at"`
	UsesLeft  *int        `db:"uses_left"` // nil: not limited
	MadeAt    time.Time   `db:"made_at"`
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
	defer wrap(&err, "make a code")
	c := Code{ID: newID(), Role: n.Role, Label: n.Label, ExpiresAt: n.ExpiresAt, UsesLeft: n.Uses, MadeAt: db.clock()}
	_, err = db.pool.Exec(ctx, `
		insert into code (event_id, code_id, code_hash, role, label, expires_at, uses_left, made_at)
		values ($1, $2, $3, $4, $5, $6, $7, $8)`,
		event, c.ID, n.Hash, c.Role, c.Label, c.ExpiresAt, c.UsesLeft, c.MadeAt)
	if err != nil {
		return Code{}, err
	}
	return c, nil
}

// Codes lists the codes of an event, also those that ended, newest first.
func (db *DB) Codes(ctx context.Context, event uuid.UUID) (_ []Code, err error) {
	defer wrap(&err, "list the codes of event %s", event)
	rows, err := db.pool.Query(ctx, `
		select
			code_id,
			role,
			label,
			expires_at,
			revoked_at,
			uses_left,
			made_at
		from code
		where event_id = $1
		order by made_at desc, code_id desc`, event)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByName[Code])
}

// RevokeCode ends a code. Who joined by it stays. ErrNotFound.
func (db *DB) RevokeCode(ctx context.Context, event, code uuid.UUID) (err error) {
	defer wrap(&err, "revoke code %s", code)
	tag, err := db.pool.Exec(ctx, `
		update code
		set revoked_at = coalesce(revoked_at, $3)
		where event_id = $1 and code_id = $2`, event, code, db.clock())
	if err == nil && tag.RowsAffected() == 0 {
		return ErrNotFound
	}
	return err
}

// Redemption is somebody with a code who joins an event.
type Redemption struct {
	CodeHash   []byte
	Nickname   string    // empty: the label of the code, if that is for a few people only
	DeviceID   string    // made by the device; it alone may come back under the same nickname
	DeviceKind string    // as in NewSession
	TokenHash  []byte    // of the session that is made
	ExpiresAt  time.Time // of the session
}

// RedeemCode uses a code once: in one transaction it counts the use, makes the
// member (or, on the same device and with the same role, finds it again) and
// its session. ErrNotFound: no such code; ErrGone: the code ended, was revoked
// or used up, or the event ended; ErrExists: the nickname belongs to another
// device, role or account. On an error nothing was used.
func (db *DB) RedeemCode(ctx context.Context, r Redemption) (ev Event, m Member, err error) {
	defer wrap(&err, "redeem a code")
	var joined bool
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		event, role, label, err := db.useCode(ctx, tx, r.CodeHash)
		if err != nil {
			return err
		}
		r := r // the transaction may run again
		if r.Nickname == "" {
			r.Nickname = label
		}
		if m, joined, err = db.join(ctx, tx, event, role, r); err != nil {
			return err
		}
		_, err = db.createSession(ctx, tx, NewSession{
			EventID: event, MemberID: m.ID, TokenHash: r.TokenHash, DeviceID: r.DeviceID, DeviceKind: r.DeviceKind, ExpiresAt: r.ExpiresAt,
		})
		if err != nil {
			return err
		}
		if joined {
			if _, err := db.publish(ctx, tx, event, false, membersChanged); err != nil {
				return err
			}
		}
		ev, err = readEvent(ctx, tx, event)
		if err == nil && ev.EndedAt != nil {
			return fmt.Errorf("%w: the event", ErrGone)
		}
		return err
	})
	if err != nil {
		return Event{}, Member{}, err
	}
	if joined {
		db.hints.add(ev.ID)
	}
	return ev, m, nil
}

// useCode counts one use of a code that is valid now. label names whom a code of
// limited uses is for; any other has none.
func (db *DB) useCode(ctx context.Context, tx pgx.Tx, hash []byte) (event uuid.UUID, role record.Role, label string, err error) {
	// Two who use the last use at once: the second waits and then sees none left.
	var valid bool
	err = tx.QueryRow(ctx, `
		with found as (
			select event_id, code_id, revoked_at is null and expires_at > $2 and uses_left is distinct from 0 as valid
			from code
			where code_hash = $1
			for no key update
		)
		update code c
		set uses_left = case when found.valid then c.uses_left - 1 else c.uses_left end
		from found
		where c.event_id = found.event_id and c.code_id = found.code_id
		returning c.event_id, c.role, case when c.uses_left is null then '' else c.label end, found.valid`, hash, db.clock()).Scan(&event, &role, &label, &valid)
	if err == nil && !valid {
		err = fmt.Errorf("%w: the code", ErrGone)
	}
	return event, role, label, err
}

// join makes the member, or finds the one that this device made before.
func (db *DB) join(ctx context.Context, tx pgx.Tx, event uuid.UUID, role record.Role, r Redemption) (m Member, joined bool, err error) {
	rows, err := tx.Query(ctx, `
		select
			member_id,
			account_id,
			role,
			nickname,
			coalesce(device_id, '') as device_id,
			made_at
		from member
		where event_id = $1 and lower(nickname) = lower($2) and removed_at is null
		for no key update`, event, r.Nickname)
	if err != nil {
		return m, false, err
	}
	there, err := pgx.CollectRows(rows, pgx.RowToStructByName[Member])
	if err != nil {
		return m, false, err
	}
	if len(there) == 0 {
		m, err = db.insertMember(ctx, tx, event, Member{Role: role, Nickname: r.Nickname, DeviceID: r.DeviceID})
		return m, true, err
	}
	m = there[0]
	if m.AccountID != nil || m.Role != role || r.DeviceID == "" || m.DeviceID != "" && m.DeviceID != r.DeviceID {
		return m, false, fmt.Errorf("%w: a member of that nickname", ErrExists)
	}
	if m.DeviceID == "" { // the lead had made room for it
		m.DeviceID = r.DeviceID
		_, err = tx.Exec(ctx, `
			update member
			set device_id = $3
			where event_id = $1 and member_id = $2`, event, m.ID, m.DeviceID)
	}
	return m, false, err
}

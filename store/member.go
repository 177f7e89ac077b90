package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// Member is somebody who takes part in an event.
type Member struct {
	ID        uuid.UUID   `db:"member_id"`
	AccountID *uuid.UUID  `db:"account_id"` // nil: joined by a code
	Role      record.Role `db:"role"`
	Nickname  string      `db:"nickname"`  // unique among the members of the event, upper and lower case being the same
	DeviceID  string      `db:"device_id"` // that joined by a code; empty: none yet
	MadeAt    time.Time   `db:"made_at"`
}

// NewMember is what AddMember needs.
type NewMember struct {
	AccountID *uuid.UUID
	Role      record.Role
	Nickname  string
}

var membersChanged = []change{{kind: ChangeMembers, audience: forStaff}}

// AddMember adds somebody to an event. ErrNotFound: no such event or account;
// ErrExists: the nickname is taken, or the account is a member.
func (db *DB) AddMember(ctx context.Context, event uuid.UUID, n NewMember) (m Member, err error) {
	defer wrap(&err, "add member %q", n.Nickname)
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		if m, err = db.addMember(ctx, tx, event, n); err != nil {
			return err
		}
		_, err = db.publish(ctx, tx, event, false, membersChanged)
		return err
	})
	if err != nil {
		return Member{}, err
	}
	db.hints.add(event)
	return m, nil
}

func (db *DB) addMember(ctx context.Context, q querier, event uuid.UUID, n NewMember) (Member, error) {
	return db.insertMember(ctx, q, event, Member{AccountID: n.AccountID, Role: n.Role, Nickname: n.Nickname})
}

func (db *DB) insertMember(ctx context.Context, q querier, event uuid.UUID, m Member) (Member, error) {
	m.ID, m.MadeAt = newID(), db.clock()
	_, err := q.Exec(ctx, `
		insert into member (event_id, member_id, account_id, role, nickname, device_id, made_at)
		values ($1, $2, $3, $4, $5, nullif($6, ''), $7)`,
		event, m.ID, m.AccountID, m.Role, m.Nickname, m.DeviceID, m.MadeAt)
	return m, err
}

// Members lists the members of an event who have not been removed, by nickname.
func (db *DB) Members(ctx context.Context, event uuid.UUID) (_ []Member, err error) {
	defer wrap(&err, "list the members of event %s", event)
	rows, err := db.pool.Query(ctx, `
		select
			member_id,
			account_id,
			role,
			nickname,
			coalesce(device_id, '') as device_id,
			made_at
		from member
		where event_id = $1 and removed_at is null
		order by lower(nickname)`, event)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByName[Member])
}

// MemberOfAccount finds who an account is at an event. ErrNotFound: no member.
func (db *DB) MemberOfAccount(ctx context.Context, event, account uuid.UUID) (_ Member, err error) {
	defer wrap(&err, "find account %s at event %s", account, event)
	rows, err := db.pool.Query(ctx, `
		select
			member_id,
			account_id,
			role,
			nickname,
			coalesce(device_id, '') as device_id,
			made_at
		from member
		where event_id = $1 and account_id = $2 and removed_at is null`, event, account)
	if err != nil {
		return Member{}, err
	}
	return pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[Member])
}

// RenameMember changes a nickname. Records keep the name they were made under.
// ErrNotFound; ErrExists: the nickname is taken.
func (db *DB) RenameMember(ctx context.Context, event, member uuid.UUID, nickname string) (m Member, err error) {
	defer wrap(&err, "rename member %s", member)
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		rows, err := tx.Query(ctx, `
			update member
			set nickname = $3
			where event_id = $1 and member_id = $2 and removed_at is null
			returning
				member_id,
				account_id,
				role,
				nickname,
				coalesce(device_id, '') as device_id,
				made_at`, event, member, nickname)
		if err != nil {
			return err
		}
		if m, err = pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[Member]); err != nil {
			return err
		}
		_, err = db.publish(ctx, tx, event, false, membersChanged)
		return err
	})
	if err != nil {
		return Member{}, err
	}
	db.hints.add(event)
	return m, nil
}

// RemoveMember ends somebody's part in an event: all sessions end and the
// nickname is free. Records stay. ErrNotFound; ErrConflict: the last lead.
func (db *DB) RemoveMember(ctx context.Context, event, member uuid.UUID) (err error) {
	defer wrap(&err, "remove member %s", member)
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		// Two leads who remove each other at once must not both succeed.
		rows, err := tx.Query(ctx, `
			select member_id
			from member
			where event_id = $1 and role = 'lead' and removed_at is null
			order by member_id
			for no key update`, event)
		if err != nil {
			return err
		}
		leads, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
		if err != nil {
			return err
		}
		if len(leads) == 1 && leads[0] == member {
			return fmt.Errorf("%w: the last lead of the event", ErrConflict)
		}
		gone, err := tx.Exec(ctx, `
			update member
			set removed_at = $3
			where event_id = $1 and member_id = $2 and removed_at is null`, event, member, db.clock())
		if err != nil {
			return err
		}
		if gone.RowsAffected() == 0 {
			return ErrNotFound
		}
		if err := db.revokeSessionsOf(ctx, tx, event, member); err != nil {
			return err
		}
		_, err = db.publish(ctx, tx, event, false, membersChanged)
		return err
	})
	if err != nil {
		return err
	}
	db.hints.add(event)
	return nil
}

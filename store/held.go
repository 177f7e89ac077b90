package store

import (
	"context"
	"encoding/json"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// maxHeld bounds what is kept apart of one event: a lost tablet may be in
// anybody's hands.
const maxHeld = 2000

// Held is a revision that came from a device whose session had been ended. It
// counts for nothing until a lead accepts it.
type Held struct {
	RevisionID uuid.UUID       `db:"revision_id"`
	DeviceID   string          `db:"device_id"`
	MemberID   uuid.UUID       `db:"member_id"`
	Author     string          `db:"author"` // the nickname then
	Role       record.Role     `db:"role"`
	ReceivedAt time.Time       `db:"received_at"`
	Item       json.RawMessage `db:"item"` // as it was sent, never checked
}

// Hold keeps apart what a device sent after its session had been ended; what is
// here already, either way, is not kept twice. all reports whether each of the
// items is here now: there is room for so many only. Of an item only
// RevisionID, MemberID, DeviceID, Author, Role and Item are read.
func (db *DB) Hold(ctx context.Context, event uuid.UUID, items []Held) (all bool, err error) {
	defer wrap(&err, "keep apart what came to event %s", event)
	ids, texts := make([]uuid.UUID, len(items)), make([]string, len(items))
	members, devices := make([]uuid.UUID, len(items)), make([]string, len(items))
	authors, roles := make([]string, len(items)), make([]string, len(items))
	for i, it := range items {
		ids[i], texts[i], members[i], devices[i] = it.RevisionID, string(it.Item), it.MemberID, it.DeviceID
		authors[i], roles[i] = it.Author, string(it.Role)
	}
	added := false
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		done, err := tx.Exec(ctx, `
			insert into held (event_id, revision_id, member_id, device_id, author, role, received_at, item)
			select $1, t.revision_id, t.member_id, t.device_id, t.author, t.role, $8, t.item::json
			from unnest($2::uuid[], $3::uuid[], $4::text[], $5::text[], $6::text[], $7::text[])
				as t (revision_id, member_id, device_id, author, role, item)
			where not exists (select from revision r where r.event_id = $1 and r.revision_id = t.revision_id)
				and not exists (select from held h where h.event_id = $1 and h.revision_id = t.revision_id)
			limit greatest(0, $9 - (select count(*) from held h where h.event_id = $1))
			on conflict (event_id, revision_id) do nothing`,
			event, ids, members, devices, authors, roles, texts, db.clock(), maxHeld)
		if err != nil {
			return err
		}
		err = tx.QueryRow(ctx, `
			select not exists (
				select from unnest($2::uuid[]) as t (revision_id)
				where not exists (select from revision r where r.event_id = $1 and r.revision_id = t.revision_id)
					and not exists (select from held h where h.event_id = $1 and h.revision_id = t.revision_id)
			)`, event, ids).Scan(&all)
		added = done.RowsAffected() > 0
		if err != nil || !added {
			return err
		}
		_, err = db.publish(ctx, tx, event, false, membersChanged)
		return err
	})
	if err == nil && added {
		db.hints.add(event)
	}
	return all, err
}

// Held lists what is kept apart, by device and as it arrived.
func (db *DB) Held(ctx context.Context, event uuid.UUID) (_ []Held, err error) {
	defer wrap(&err, "list what is kept apart of event %s", event)
	rows, err := db.pool.Query(ctx, `
		select
			revision_id,
			device_id,
			member_id,
			author,
			role,
			received_at,
			item
		from held
		where event_id = $1
		order by device_id, received_at, revision_id`, event)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByName[Held])
}

// ThrowAway drops what one device sent and nobody accepted. It says how many.
func (db *DB) ThrowAway(ctx context.Context, event uuid.UUID, device string) (n int, err error) {
	defer wrap(&err, "throw away what is kept apart")
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		gone, err := tx.Exec(ctx, `delete from held where event_id = $1 and device_id = $2`, event, device)
		if err != nil {
			return err
		}
		n = int(gone.RowsAffected())
		if n == 0 {
			return nil
		}
		_, err = db.publish(ctx, tx, event, false, membersChanged)
		return err
	})
	if err == nil && n > 0 {
		db.hints.add(event)
	}
	return n, err
}

// EndedSession finds a session of a member that was ended before its time: by
// a lead who took the member out, or by signing out. ErrNotFound: none.
func (db *DB) EndedSession(ctx context.Context, event uuid.UUID, tokenHash []byte) (s Session, err error) {
	defer wrap(&err, "find an ended session")
	s.EventID = event
	err = db.pool.QueryRow(ctx, `
		select
			s.member_id,
			s.role,
			m.nickname,
			s.device_id,
			s.expires_at
		from session s
		join member m on m.event_id = s.event_id and m.member_id = s.member_id
		where s.event_id = $1
			and s.token_hash = $2
			and (s.revoked_at is not null or m.removed_at is not null)
			and s.expires_at > $3`, event, tokenHash, db.clock()).
		Scan(&s.MemberID, &s.Role, &s.Nickname, &s.DeviceID, &s.ExpiresAt)
	if err != nil {
		return Session{}, err
	}
	return s, nil
}

// WhoMade finds the member that a nickname on a device was, for revisions that
// somebody else brings in; of several the one who takes part now. Zero: nobody
// known here.
func (db *DB) WhoMade(ctx context.Context, event uuid.UUID, nickname, device string) (id uuid.UUID, err error) {
	defer wrap(&err, "find who made a revision")
	err = db.pool.QueryRow(ctx, `
		select coalesce((
			select member_id
			from member
			where event_id = $1 and lower(nickname) = lower($2) and (removed_at is null or device_id = $3)
			order by removed_at desc nulls first
			limit 1
		), $4)`, event, nickname, device, uuid.Nil).Scan(&id)
	return id, err
}

// CountHeld counts what is kept apart of several events; an event of which
// there is nothing is left out.
func (db *DB) CountHeld(ctx context.Context, events []uuid.UUID) (_ map[uuid.UUID]int, err error) {
	defer wrap(&err, "count what is kept apart")
	rows, err := db.pool.Query(ctx, `
		select event_id, count(*)
		from held
		where event_id = any($1)
		group by event_id`, events)
	if err != nil {
		return nil, err
	}
	out := map[uuid.UUID]int{}
	var id uuid.UUID
	var n int
	_, err = pgx.ForEachRow(rows, []any{&id, &n}, func() error {
		out[id] = n
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

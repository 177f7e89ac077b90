package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// Event is one team's view of one competition.
type Event struct {
	ID        uuid.UUID       `db:"event_id"`
	Name      string          `db:"name"`
	Zone      string          `db:"zone"` // IANA time zone
	OurTeam   record.TeamID   `db:"our_team"`
	GameHash  string          `db:"game_hash"` // SHA-256 of the game file, in hexadecimal
	Overrides json.RawMessage `db:"overrides"` // the event's own settings (event.json), an object
	ChangeNo  int64           `db:"change_no"` // the last number of the feed
	DataNo    int64           `db:"data_no"`   // moves when game, overrides, our team, set of teams, schedule, results, observations or marks change
	Version   int64           `db:"version"`   // change number of the last change of the event or its game; for ETag and If-Match
	MadeAt    time.Time       `db:"made_at"`
	EndedAt   *time.Time      `db:"ended_at"` // nil: goes on
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
func (db *DB) CreateEvent(ctx context.Context, n NewEvent) (ev Event, lead Member, err error) {
	defer wrap(&err, "make event %q", n.Name)
	id := newID()
	overrides, err := cleanBody(orEmpty(n.Overrides))
	if err != nil {
		return Event{}, Member{}, fmt.Errorf("%w: the settings of the event: %w", ErrInvalid, err)
	}
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		hash, err := keepGame(ctx, tx, n.GameBody)
		if err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `
			insert into event (event_id, name, zone, our_team, game_hash, overrides, made_at)
			values ($1, $2, $3, $4, $5, $6, $7)`,
			id, n.Name, n.Zone, n.OurTeam, hash, overrides, db.clock())
		if err != nil {
			return err
		}
		if lead, err = db.addMember(ctx, tx, id, NewMember{AccountID: n.AccountID, Role: record.RoleLead, Nickname: n.Nickname}); err != nil {
			return err
		}
		if _, err = db.publish(ctx, tx, id, true, []change{{kind: ChangeEvent, audience: forAll}}); err != nil {
			return err
		}
		ev, err = readEvent(ctx, tx, id)
		return err
	})
	if err != nil {
		return Event{}, Member{}, err
	}
	db.hints.add(id)
	return ev, lead, nil
}

// keepGame stores a game file under its hash.
func keepGame(ctx context.Context, q querier, body json.RawMessage) (hash string, err error) {
	sum := sha256.Sum256(body)
	hash = hex.EncodeToString(sum[:])
	_, err = q.Exec(ctx, `
		insert into game (hash, body)
		values ($1, $2)
		on conflict (hash) do nothing`, hash, string(body))
	return hash, err
}

// Event reads one event. ErrNotFound.
func (db *DB) Event(ctx context.Context, id uuid.UUID) (_ Event, err error) {
	defer wrap(&err, "read event %s", id)
	return readEvent(ctx, db.pool, id)
}

func readEvent(ctx context.Context, q querier, id uuid.UUID) (Event, error) {
	rows, err := q.Query(ctx, `
		select
			event_id,
			name,
			zone,
			our_team,
			game_hash,
			overrides,
			change_no,
			data_no,
			greatest(
				(select max(c.change_no) from change c where c.event_id = e.event_id and c.kind = 'event'),
				(select max(c.change_no) from change c where c.event_id = e.event_id and c.kind = 'game'),
				0
			) as version,
			made_at,
			ended_at
		from event e
		where event_id = $1`, id)
	if err != nil {
		return Event{}, err
	}
	return pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[Event])
}

// CarryKey reads the 32 bytes from which the keys of what is carried without a
// network follow. They leave the server in no other way but the back-up.
// ErrNotFound.
func (db *DB) CarryKey(ctx context.Context, id uuid.UUID) (key []byte, err error) {
	defer wrap(&err, "read the key of event %s", id)
	err = db.pool.QueryRow(ctx, `select carry_key from event where event_id = $1`, id).Scan(&key)
	return key, err
}

// lockEvent waits until no other transaction writes to the feed of an event,
// and reads the event as it is then. Locks on records come before this one.
func lockEvent(ctx context.Context, tx pgx.Tx, id uuid.UUID) (Event, error) {
	if _, err := tx.Exec(ctx, `select from event where event_id = $1 for no key update`, id); err != nil {
		return Event{}, err
	}
	return readEvent(ctx, tx, id)
}

// Events lists the events where an account is a member, newest first.
func (db *DB) Events(ctx context.Context, accountID uuid.UUID) (_ []EventOfMember, err error) {
	defer wrap(&err, "list the events of account %s", accountID)
	rows, err := db.pool.Query(ctx, `
		select
			e.event_id,
			e.name,
			e.zone,
			e.our_team,
			e.game_hash,
			e.overrides,
			e.change_no,
			e.data_no,
			greatest(
				(select max(c.change_no) from change c where c.event_id = e.event_id and c.kind = 'event'),
				(select max(c.change_no) from change c where c.event_id = e.event_id and c.kind = 'game'),
				0
			),
			e.made_at,
			e.ended_at,
			m.member_id,
			m.role,
			m.nickname
		from member m
		join event e on e.event_id = m.event_id
		where m.account_id = $1 and m.removed_at is null
		order by e.made_at desc, e.event_id desc`, accountID)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (EventOfMember, error) {
		var m EventOfMember
		e := &m.Event
		err := row.Scan(&e.ID, &e.Name, &e.Zone, &e.OurTeam, &e.GameHash, &e.Overrides, &e.ChangeNo, &e.DataNo,
			&e.Version, &e.MadeAt, &e.EndedAt, &m.MemberID, &m.Role, &m.Nickname)
		return m, err
	})
}

// UpdateEvent changes an event. A patch that changes nothing makes no entry in
// the feed. ErrNotFound; ErrStale: ifVersion is set and not Event.Version.
func (db *DB) UpdateEvent(ctx context.Context, id uuid.UUID, p EventPatch, ifVersion *int64) (ev Event, err error) {
	defer wrap(&err, "change event %s", id)
	var changed bool
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		old, err := lockEvent(ctx, tx, id)
		if err != nil {
			return err
		}
		if ifVersion != nil && *ifVersion != old.Version {
			return ErrStale
		}
		ev = old
		if p.Name != nil {
			ev.Name = *p.Name
		}
		if p.Zone != nil {
			ev.Zone = *p.Zone
		}
		if p.OurTeam != nil {
			ev.OurTeam = *p.OurTeam
		}
		if p.Overrides != nil {
			if ev.Overrides, err = cleanBody(p.Overrides); err != nil {
				return fmt.Errorf("%w: the settings of the event: %w", ErrInvalid, err)
			}
		}
		if p.Ended != nil && *p.Ended != (old.EndedAt != nil) {
			ev.EndedAt = nil
			if *p.Ended {
				now := db.clock()
				ev.EndedAt = &now
			}
		}
		sameSettings := sameJSON(old.Overrides, ev.Overrides)
		changed = !sameSettings || old.Name != ev.Name || old.Zone != ev.Zone || old.OurTeam != ev.OurTeam || old.EndedAt != ev.EndedAt
		if !changed {
			return nil
		}
		_, err = tx.Exec(ctx, `
			update event
			set name = $2, zone = $3, our_team = $4, overrides = $5, ended_at = $6
			where event_id = $1`, id, ev.Name, ev.Zone, ev.OurTeam, ev.Overrides, ev.EndedAt)
		if err != nil {
			return err
		}
		moved := !sameSettings || old.OurTeam != ev.OurTeam
		if _, err = db.publish(ctx, tx, id, moved, []change{{kind: ChangeEvent, audience: forAll}}); err != nil {
			return err
		}
		ev, err = readEvent(ctx, tx, id)
		return err
	})
	if err != nil {
		return Event{}, err
	}
	if changed {
		db.hints.add(id)
	}
	return ev, nil
}

// Game reads the game file of an event, as it was given, and its hash. ErrNotFound.
func (db *DB) Game(ctx context.Context, id uuid.UUID) (body json.RawMessage, hash string, err error) {
	defer wrap(&err, "read the game of event %s", id)
	return readGame(ctx, db.pool, id)
}

func readGame(ctx context.Context, q querier, id uuid.UUID) (body json.RawMessage, hash string, err error) {
	var text string
	err = q.QueryRow(ctx, `
		select g.body::text, g.hash
		from event e
		join game g on g.hash = e.game_hash
		where e.event_id = $1`, id).Scan(&text, &hash)
	return json.RawMessage(text), hash, err
}

// SetGame replaces the game file of an event, which the caller has checked.
// ErrNotFound; ErrStale: ifHash is not empty and not the present one.
func (db *DB) SetGame(ctx context.Context, id uuid.UUID, body json.RawMessage, ifHash string) (ev Event, err error) {
	defer wrap(&err, "replace the game of event %s", id)
	var changed bool
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		old, err := lockEvent(ctx, tx, id)
		if err != nil {
			return err
		}
		if ifHash != "" && ifHash != old.GameHash {
			return ErrStale
		}
		hash, err := keepGame(ctx, tx, body)
		if err != nil {
			return err
		}
		ev, changed = old, hash != old.GameHash
		if !changed {
			return nil
		}
		if _, err = tx.Exec(ctx, `update event set game_hash = $2 where event_id = $1`, id, hash); err != nil {
			return err
		}
		if _, err = db.publish(ctx, tx, id, true, []change{{kind: ChangeGame, audience: forAll}}); err != nil {
			return err
		}
		ev, err = readEvent(ctx, tx, id)
		return err
	})
	if err != nil {
		return Event{}, err
	}
	if changed {
		db.hints.add(id)
	}
	return ev, nil
}

func orEmpty(raw json.RawMessage) json.RawMessage {
	if len(bytes.TrimSpace(raw)) == 0 {
		return json.RawMessage(`{}`)
	}
	return raw
}

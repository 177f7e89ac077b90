package store

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// Record is what the revisions of one record say together.
type Record struct {
	ID       uuid.UUID
	Kind     string
	Head     uuid.UUID
	Heads    []uuid.UUID // the one that counts first
	Conflict bool
	Owner    uuid.UUID      // the scout whose own record it is; zero: nobody's
	Match    record.MatchID // that the body names; zero: none
	Team     record.TeamID  // that the body names; empty: none
	Author   string         // of the head
	Role     record.Role    // of the head
	MadeAt   time.Time      // of the head
	Body     json.RawMessage
}

// Filter says which records are wanted; zero members do not restrict.
type Filter struct {
	Kind  string
	Match record.MatchID
	Team  record.TeamID
	Owner uuid.UUID // a scout's own records, questions that are asked of scouts, and who sits where
}

// Kept is a revision as it is kept.
type Kept struct {
	record.Revision
	MemberID   uuid.UUID // zero: not known here
	ReceivedAt time.Time
	Via        string
	ChangeNo   int64
}

// Records lists records by kind, match, team and id.
func (db *DB) Records(ctx context.Context, event uuid.UUID, f Filter) (_ []Record, err error) {
	defer wrap(&err, "list the records of event %s", event)
	return readRecords(ctx, db.pool, event, f)
}

func readRecords(ctx context.Context, q querier, event uuid.UUID, f Filter) ([]Record, error) {
	rows, err := q.Query(ctx, `
		select
			r.record_id,
			r.kind,
			r.head,
			r.heads,
			r.conflict,
			r.owner,
			r.stage,
			r.number,
			r.team,
			v.author,
			v.role,
			v.made_at,
			coalesce(r.body, v.body)
		from record r
		join revision v on v.event_id = r.event_id and v.revision_id = r.head
		where r.event_id = $1
			and ($2 = '' or r.kind = $2)
			and ($3 = '' or r.stage = $3 and r.number = $4)
			and ($5 = '' or r.team = $5)
			and ($6::uuid is null or r.owner = $6 or r.kind = $7 and v.body->>'asked_of' = $8 or r.kind = $9)`,
		event, f.Kind, string(f.Match.Stage), f.Match.Number, string(f.Team), orNull(f.Owner),
		record.KindQuestion, record.AskedOfScouts, record.KindSeat)
	if err != nil {
		return nil, err
	}
	out, err := pgx.CollectRows(rows, scanRecord)
	if err != nil {
		return nil, err
	}
	slices.SortFunc(out, func(a, b Record) int {
		return cmp.Or(
			cmp.Compare(a.Kind, b.Kind),
			a.Match.Compare(b.Match),
			record.CompareTeams(a.Team, b.Team),
			slices.Compare(a.ID[:], b.ID[:]),
		)
	})
	return out, nil
}

func scanRecord(row pgx.CollectableRow) (Record, error) {
	var (
		r           Record
		owner       *uuid.UUID
		stage, team *string
		number      *int
	)
	err := row.Scan(&r.ID, &r.Kind, &r.Head, &r.Heads, &r.Conflict, &owner, &stage, &number, &team,
		&r.Author, &r.Role, &r.MadeAt, &r.Body)
	if owner != nil {
		r.Owner = *owner
	}
	if stage != nil && number != nil {
		r.Match = record.MatchID{Stage: record.Stage(*stage), Number: *number}
	}
	if team != nil {
		r.Team = record.TeamID(*team)
	}
	return r, err
}

// Record reads one record. ErrNotFound.
func (db *DB) Record(ctx context.Context, event, id uuid.UUID) (_ Record, err error) {
	defer wrap(&err, "read record %s", id)
	rows, err := db.pool.Query(ctx, `
		select
			r.record_id,
			r.kind,
			r.head,
			r.heads,
			r.conflict,
			r.owner,
			r.stage,
			r.number,
			r.team,
			v.author,
			v.role,
			v.made_at,
			coalesce(r.body, v.body)
		from record r
		join revision v on v.event_id = r.event_id and v.revision_id = r.head
		where r.event_id = $1 and r.record_id = $2`, event, id)
	if err != nil {
		return Record{}, err
	}
	return pgx.CollectExactlyOneRow(rows, scanRecord)
}

// Revisions lists all revisions of a record as they arrived. ErrNotFound: none.
func (db *DB) Revisions(ctx context.Context, event, id uuid.UUID) (_ []Kept, err error) {
	defer wrap(&err, "list the revisions of record %s", id)
	rows, err := db.pool.Query(ctx, `
		select
			revision_id,
			record_id,
			parents,
			kind,
			lamport,
			author,
			member_id,
			role,
			device_id,
			made_at,
			received_at,
			via,
			change_no,
			body
		from revision
		where event_id = $1 and record_id = $2
		order by change_no`, event, id)
	if err != nil {
		return nil, err
	}
	out, err := pgx.CollectRows(rows, scanKept)
	if err == nil && len(out) == 0 {
		err = ErrNotFound
	}
	return out, err
}

func scanKept(row pgx.CollectableRow) (Kept, error) {
	var k Kept
	var member *uuid.UUID
	err := row.Scan(&k.RevisionID, &k.RecordID, &k.Parents, &k.Kind, &k.Lamport, &k.Author, &member, &k.Role,
		&k.DeviceID, &k.MadeAt, &k.ReceivedAt, &k.Via, &k.ChangeNo, &k.Body)
	if member != nil {
		k.MemberID = *member
	}
	return k, err
}

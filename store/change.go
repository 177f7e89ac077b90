package store

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// The kinds of change in the feed. "record" carries the revision; the others
// say what to fetch again.
const (
	ChangeRecord  = "record"
	ChangeEvent   = "event"
	ChangeGame    = "game"
	ChangeTeams   = "teams"
	ChangeMatches = "matches"
	ChangeMembers = "members"
)

// Who sees a change, besides lead and coach, who see all.
const (
	forAll   = "all"
	forStaff = "staff"
)

// forMember is the audience of a scout's own record.
func forMember(id uuid.UUID) string { return "member:" + id.String() }

// FeedItem is one change.
type FeedItem struct {
	ChangeNo int64
	Kind     string
	RecordID uuid.UUID        // zero unless Kind is "record"
	Revision *record.Revision // nil unless Kind is "record"
}

// Viewer is who reads the feed. A scout sees the own records and what is for
// all; lead and coach see everything; any other role what is for all.
type Viewer struct {
	Role     record.Role
	MemberID uuid.UUID
}

// change is an entry of the feed that has no number yet. Of kind "record" it
// brings the revision.
type change struct {
	kind     string
	audience string
	revision *Incoming
}

// publish gives changes their numbers and stores them, with the revisions that
// they bring. It must be the last statement of its transaction: from here to
// the commit nobody else can take numbers of this event, and so numbers become
// visible in their order and without gaps. moved says that analyses are out of
// date. It returns the event's last change number; without changes it only
// reads that.
func (db *DB) publish(ctx context.Context, tx pgx.Tx, event uuid.UUID, moved bool, changes []change) (changeNo int64, err error) {
	if len(changes) == 0 {
		return readChangeNo(ctx, tx, event)
	}
	n := len(changes)
	var (
		kinds, audiences, parents, bodies           = make([]string, n), make([]string, n), make([]string, n), make([]string, n)
		recordKinds, authors, roles, devices, vias  = make([]string, n), make([]string, n), make([]string, n), make([]string, n), make([]string, n)
		recordIDs, revisionIDs, memberIDs, lamports = make([]*uuid.UUID, n), make([]*uuid.UUID, n), make([]*uuid.UUID, n), make([]int64, n)
		madeAt                                      = make([]*time.Time, n)
		dataMoves                                   int64
	)
	if moved {
		dataMoves = 1
	}
	for i, c := range changes {
		kinds[i], audiences[i], parents[i], bodies[i] = c.kind, c.audience, "{}", "{}"
		r := c.revision
		if r == nil {
			continue
		}
		recordIDs[i], revisionIDs[i], memberIDs[i] = &r.RecordID, &r.RevisionID, orNull(r.MemberID)
		parents[i], bodies[i], madeAt[i], lamports[i] = arrayText(r.Parents), string(r.Body), &r.MadeAt, r.Lamport
		recordKinds[i], authors[i], roles[i], devices[i], vias[i] = r.Kind, r.Author, string(r.Role), r.DeviceID, r.Via
	}
	err = tx.QueryRow(ctx, `
		with counter as (
			update event
			set change_no = change_no + $2, data_no = data_no + $3
			where event_id = $1
			returning change_no - $2 as base, change_no
		), item as (
			select
				counter.base + t.place as change_no,
				t.kind,
				t.audience,
				t.record_id,
				t.revision_id,
				t.parents::uuid[] as parents,
				t.record_kind,
				t.lamport,
				t.author,
				t.member_id,
				t.role,
				t.device_id,
				t.made_at,
				t.via,
				t.body::jsonb as body
			from counter, unnest(
				$4::text[], $5::text[], $6::uuid[], $7::uuid[], $8::text[], $9::text[], $10::bigint[], $11::text[],
				$12::uuid[], $13::text[], $14::text[], $15::timestamptz[], $16::text[], $17::text[]
			) with ordinality as t (
				kind, audience, record_id, revision_id, parents, record_kind, lamport, author,
				member_id, role, device_id, made_at, via, body, place
			)
		), kept as (
			insert into revision (
				event_id, revision_id, record_id, parents, kind, lamport, author,
				member_id, role, device_id, made_at, received_at, via, change_no, body
			)
			select
				$1, revision_id, record_id, parents, record_kind, lamport, author,
				member_id, role, device_id, made_at, $18, via, change_no, body
			from item
			where revision_id is not null
		), noted as (
			insert into change (event_id, change_no, kind, record_id, audience)
			select $1, change_no, kind, record_id, audience
			from item
		)
		select change_no
		from counter`,
		event, int64(n), dataMoves,
		kinds, audiences, recordIDs, revisionIDs, parents, recordKinds, lamports, authors,
		memberIDs, roles, devices, madeAt, vias, bodies, db.clock()).Scan(&changeNo)
	return changeNo, err
}

// arrayText writes ids as PostgreSQL's array literal.
func arrayText(ids []uuid.UUID) string {
	texts := make([]string, len(ids))
	for i, id := range ids {
		texts[i] = id.String()
	}
	return "{" + strings.Join(texts, ",") + "}"
}

// Since lists what changed after a change number, oldest first, at most limit
// items (1 to 1000; anything else is 500). next is what to ask with the next
// time; while items is not empty there may be more. reset: after is not a
// number that this database gave (the event was restored): items is empty,
// start again at 0. ErrNotFound: no such event.
func (db *DB) Since(ctx context.Context, event uuid.UUID, after int64, limit int, viewer Viewer) (items []FeedItem, next int64, reset bool, err error) {
	defer wrap(&err, "read the changes of event %s after %d", event, after)
	if limit < 1 || limit > 1000 {
		limit = 500
	}
	// Numbers are taken and shown in order, so what is at most last is all there.
	var known bool
	var last int64
	err = db.pool.QueryRow(ctx, `
		select e.change_no, $2 = 0 or exists (select from change c where c.event_id = e.event_id and c.change_no = $2)
		from event e
		where e.event_id = $1`, event, after).Scan(&last, &known)
	if err != nil {
		return nil, 0, false, err
	}
	if !known {
		return nil, 0, true, nil
	}
	if last == after {
		return nil, after, false, nil
	}
	audiences := []string{forAll}
	switch viewer.Role {
	case record.RoleLead, record.RoleCoach:
		audiences = nil
	case record.RoleScout:
		audiences = append(audiences, forMember(viewer.MemberID))
	}
	rows, err := db.pool.Query(ctx, `
		select
			c.change_no,
			c.kind,
			c.record_id,
			r.revision_id,
			r.parents,
			r.kind,
			r.lamport,
			r.author,
			r.role,
			r.device_id,
			r.made_at,
			r.body
		from (
			select change_no, kind, record_id
			from change
			where event_id = $1
				and change_no > $2
				and change_no <= $3
				and ($4::text[] is null or audience = any($4))
			order by change_no
			limit $5
		) c
		left join lateral (
			select revision_id, parents, kind, lamport, author, role, device_id, made_at, body
			from revision
			where event_id = $1 and change_no = c.change_no
			limit 1
		) r on true
		order by c.change_no`, event, after, last, audiences, limit)
	if err != nil {
		return nil, 0, false, err
	}
	items, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (FeedItem, error) {
		var (
			it                           FeedItem
			recordID, revisionID         *uuid.UUID
			kind, author, role, deviceID *string
			lamport                      *int64
			madeAt                       *time.Time
			r                            record.Revision
		)
		err := row.Scan(&it.ChangeNo, &it.Kind, &recordID, &revisionID, &r.Parents, &kind, &lamport, &author, &role, &deviceID, &madeAt, &r.Body)
		if err != nil || revisionID == nil {
			return it, err
		}
		r.RevisionID, r.RecordID, r.Kind, r.Lamport, r.Author = *revisionID, *recordID, *kind, *lamport, *author
		r.Role, r.DeviceID, r.MadeAt = record.Role(*role), *deviceID, *madeAt
		it.RecordID, it.Revision = *recordID, &r
		return it, nil
	})
	if err != nil {
		return nil, 0, false, err
	}
	if len(items) == limit {
		last = items[limit-1].ChangeNo
	}
	return items, last, false, nil
}

// ChangeNo reads the last change number of an event. ErrNotFound.
func (db *DB) ChangeNo(ctx context.Context, event uuid.UUID) (_ int64, err error) {
	defer wrap(&err, "read the change number of event %s", event)
	return readChangeNo(ctx, db.pool, event)
}

func readChangeNo(ctx context.Context, q querier, event uuid.UUID) (n int64, err error) {
	err = q.QueryRow(ctx, `select change_no from event where event_id = $1`, event).Scan(&n)
	return n, err
}

// ChangeNos reads the last change numbers of several events; one that does not
// exist is left out.
func (db *DB) ChangeNos(ctx context.Context, events []uuid.UUID) (_ map[uuid.UUID]int64, err error) {
	defer wrap(&err, "read change numbers")
	rows, err := db.pool.Query(ctx, `
		select event_id, change_no
		from event
		where event_id = any($1)`, events)
	if err != nil {
		return nil, err
	}
	out := make(map[uuid.UUID]int64, len(events))
	var id uuid.UUID
	var n int64
	_, err = pgx.ForEachRow(rows, []any{&id, &n}, func() error {
		out[id] = n
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// versionOf is the change number of the last change of one kind.
func versionOf(ctx context.Context, q querier, event uuid.UUID, kind string) (n int64, err error) {
	err = q.QueryRow(ctx, `
		select coalesce(max(change_no), 0)
		from change
		where event_id = $1 and kind = $2`, event, kind).Scan(&n)
	return n, err
}

package store

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// restoreGap is left free behind the change numbers of a restored event. The
// lost server may have given out more numbers than the export knows; a device
// that asks with one of those must be told to start again, so none of them may
// be given out for something else. No event has as many changes.
const restoreGap = 1_000_000

// restore makes the event of a file anew.
func (db *DB) restore(ctx context.Context, tx pgx.Tx, f *exportFile, how Import) (done Imported, err error) {
	id := f.head.EventID
	hash, err := keepGame(ctx, tx, json.RawMessage(f.game.Text))
	if err != nil {
		return done, err
	}
	if hash != f.game.Hash {
		return done, fmt.Errorf("%w: the text of the game does not have the hash that stands beside it: the file was changed", ErrInvalid)
	}
	e := f.event
	_, err = tx.Exec(ctx, `
		insert into event (event_id, name, zone, our_team, game_hash, overrides, prior, change_no, data_no, made_at, ended_at)
		values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		id, e.Name, e.Zone, e.OurTeam, hash, e.Overrides, e.Prior, f.lastChange()+restoreGap, e.DataNo, e.MadeAt, e.EndedAt)
	if err != nil {
		return done, err
	}
	if err := db.restoreRows(ctx, tx, f); err != nil {
		return done, err
	}
	if err := db.restoreLead(ctx, tx, f, how); err != nil {
		return done, err
	}
	if err := rebuild(ctx, tx, id); err != nil {
		return done, err
	}
	if _, err := db.publish(ctx, tx, id, true, []change{{kind: ChangeEvent, audience: forAll}}); err != nil {
		return done, err
	}
	done.Members, done.Revisions = len(f.members), len(f.revisions)
	done.Event, err = readEvent(ctx, tx, id)
	return done, err
}

func (f *exportFile) lastChange() int64 {
	last := f.event.ChangeNo
	for _, r := range f.revisions {
		last = max(last, r.ChangeNo)
	}
	for _, c := range f.changes {
		last = max(last, c.ChangeNo)
	}
	return last
}

// restoreRows writes what hangs on the event.
func (db *DB) restoreRows(ctx context.Context, tx pgx.Tx, f *exportFile) error {
	id := f.head.EventID
	err := copyRows(ctx, tx, "team", []string{"event_id", "team", "name", "pit"}, f.teams, func(t record.Team) []any {
		return []any{id, string(t.ID), t.Name, t.Pit}
	})
	if err != nil {
		return err
	}
	if err := checkLineUps(f.matches); err != nil {
		return err
	}
	if err := writeMatches(ctx, tx, id, f.matches); err != nil {
		return err
	}
	err = copyRows(ctx, tx, "member", []string{"event_id", "member_id", "role", "nickname", "device_id", "made_at", "removed_at"}, f.members, func(m memberLine) []any {
		var device *string
		if m.DeviceID != "" {
			device = &m.DeviceID
		}
		return []any{id, m.MemberID, string(m.Role), m.Nickname, device, m.MadeAt, m.RemovedAt}
	})
	if err != nil {
		return err
	}
	err = copyRows(ctx, tx, "revision", []string{
		"event_id", "revision_id", "record_id", "parents", "kind", "lamport", "author",
		"member_id", "role", "device_id", "made_at", "received_at", "via", "change_no", "body",
	}, f.revisions, func(r revisionLine) []any {
		parents := r.Parents
		if parents == nil {
			parents = []uuid.UUID{}
		}
		return []any{
			id, r.RevisionID, r.RecordID, parents, r.Kind, r.Lamport, r.Author,
			r.MemberID, string(r.Role), r.DeviceID, r.MadeAt, r.ReceivedAt, r.Via, r.ChangeNo, r.Body,
		}
	})
	if err != nil {
		return err
	}
	if err := f.writeBlobs(ctx, tx); err != nil {
		return err
	}
	changes := []string{"event_id", "change_no", "kind", "record_id", "audience"}
	err = copyRows(ctx, tx, "change", changes, f.revisions, func(r revisionLine) []any {
		return []any{id, r.ChangeNo, ChangeRecord, r.RecordID, r.Audience}
	})
	if err != nil {
		return err
	}
	err = copyRows(ctx, tx, "change", changes, f.changes, func(c changeLine) []any {
		return []any{id, c.ChangeNo, c.Kind, (*uuid.UUID)(nil), c.Audience}
	})
	if err != nil {
		return err
	}
	return copyRows(ctx, tx, "audit", []string{"event_id", "audit_id", "at", "member_id", "what", "detail"}, f.audit, func(a auditLine) []any {
		return []any{id, a.AuditID, a.At, a.MemberID, a.What, orEmpty(a.Detail)}
	})
}

func copyRows[T any](ctx context.Context, tx pgx.Tx, table string, columns []string, rows []T, values func(T) []any) error {
	_, err := tx.CopyFrom(ctx, pgx.Identifier{table}, columns,
		pgx.CopyFromSlice(len(rows), func(i int) ([]any, error) { return values(rows[i]), nil }))
	return err
}

// restoreLead lets the account that imports into the restored event: as the
// lead of its nickname, or as a new one.
func (db *DB) restoreLead(ctx context.Context, tx pgx.Tx, f *exportFile, how Import) error {
	if how.AccountID == uuid.Nil {
		return nil
	}
	id, name := f.head.EventID, cmp.Or(how.Nickname, "lead")
	tag, err := tx.Exec(ctx, `
		update member
		set account_id = $3
		where event_id = $1 and lower(nickname) = lower($2) and role = 'lead' and removed_at is null`, id, name, how.AccountID)
	if err != nil || tag.RowsAffected() > 0 {
		return err
	}
	taken := map[string]bool{}
	for _, m := range f.members {
		if m.RemovedAt == nil {
			taken[strings.ToLower(m.Nickname)] = true
		}
	}
	free := name
	for n := 2; taken[strings.ToLower(free)]; n++ {
		free = fmt.Sprintf("%s %d", name, n)
	}
	_, err = db.addMember(ctx, tx, id, NewMember{AccountID: &how.AccountID, Role: record.RoleLead, Nickname: free})
	return err
}

// rebuild derives all records of an event anew from their revisions.
func rebuild(ctx context.Context, tx pgx.Tx, event uuid.UUID) error {
	if _, err := tx.Exec(ctx, `delete from record where event_id = $1`, event); err != nil {
		return err
	}
	rows, err := tx.Query(ctx, `
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
		where event_id = $1
		order by change_no`, event)
	if err != nil {
		return err
	}
	kept, err := pgx.CollectRows(rows, scanKept)
	if err != nil {
		return err
	}
	l := lot{records: map[uuid.UUID]*drawn{}}
	for _, k := range kept {
		d := l.records[k.RecordID]
		if d == nil {
			d = &drawn{named: map[uuid.UUID]names{}}
			l.records[k.RecordID] = d
			l.order = append(l.order, k.RecordID)
		}
		d.add(&Incoming{Revision: k.Revision, MemberID: k.MemberID})
	}
	err = copyRows(ctx, tx, "record", []string{"event_id", "record_id", "kind", "head", "heads"}, l.order, func(id uuid.UUID) []any {
		first := l.records[id].revs[0].RevisionID
		return []any{event, id, l.records[id].kind, first, []uuid.UUID{first}}
	})
	if err != nil {
		return err
	}
	return l.save(ctx, tx, event, &intake{})
}

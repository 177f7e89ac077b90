package store

import (
	"bufio"
	"context"
	"encoding/json"
	"io"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// ExportNDJSON writes everything about an event, one JSON value a line, from
// one snapshot: game, settings, teams, schedule, members, revisions, feed and
// audit, with all ids. Password hashes, codes and sessions are not in it.
// ErrNotFound: no such event; nothing was written then.
func (db *DB) ExportNDJSON(ctx context.Context, event uuid.UUID, w io.Writer) (err error) {
	defer wrap(&err, "export event %s", event)
	out := newLineWriter(w)
	// A writer that fails is not a transaction to repeat, so this is no db.tx;
	// a snapshot that only reads does not collide with others.
	err = pgx.BeginTxFunc(ctx, db.pool, snapshot, func(tx pgx.Tx) error {
		if err := db.exportEvent(ctx, tx, event, out); err != nil {
			return err
		}
		for _, part := range []func(context.Context, pgx.Tx, uuid.UUID, *lineWriter) error{
			exportTeams, exportMatches, exportMembers, exportRevisions, exportBlobs, exportChanges, exportAudit,
		} {
			if err := part(ctx, tx, event, out); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	out.write(endLine{Type: "end", Lines: out.lines + 1})
	return out.flush()
}

// lineWriter writes one JSON value a line. After an error it writes no more.
type lineWriter struct {
	buf   *bufio.Writer
	enc   *json.Encoder
	lines int
	err   error
}

func newLineWriter(w io.Writer) *lineWriter {
	buf := bufio.NewWriterSize(w, 1<<16)
	enc := json.NewEncoder(buf)
	enc.SetEscapeHTML(false)
	return &lineWriter{buf: buf, enc: enc}
}

func (l *lineWriter) write(v any) error {
	if l.err == nil {
		l.err = l.enc.Encode(v)
		l.lines++
	}
	return l.err
}

func (l *lineWriter) flush() error {
	if l.err == nil {
		l.err = l.buf.Flush()
	}
	return l.err
}

func (db *DB) exportEvent(ctx context.Context, tx pgx.Tx, event uuid.UUID, out *lineWriter) error {
	ev, err := readEvent(ctx, tx, event)
	if err != nil {
		return err
	}
	text, hash, err := readGame(ctx, tx, event)
	if err != nil {
		return err
	}
	prior, err := readPrior(ctx, tx, event)
	if err != nil {
		return err
	}
	out.write(headLine{Type: exportForm, Version: exportVersion, EventID: event, MadeAt: db.clock()})
	out.write(gameLine{Type: "game", Hash: hash, Text: string(text)})
	return out.write(eventLine{
		Type: "event", Name: ev.Name, Zone: ev.Zone, OurTeam: ev.OurTeam, GameHash: ev.GameHash, Overrides: ev.Overrides, Prior: prior,
		ChangeNo: ev.ChangeNo, DataNo: ev.DataNo, MadeAt: ev.MadeAt, EndedAt: ev.EndedAt,
	})
}

func exportTeams(ctx context.Context, tx pgx.Tx, event uuid.UUID, out *lineWriter) error {
	teams, err := readTeams(ctx, tx, event)
	if err != nil {
		return err
	}
	for _, t := range teams {
		out.write(teamLine{Type: "team", Team: t})
	}
	return out.err
}

func exportMatches(ctx context.Context, tx pgx.Tx, event uuid.UUID, out *lineWriter) error {
	matches, err := readMatches(ctx, tx, event, "UTC")
	if err != nil {
		return err
	}
	for _, m := range matches {
		out.write(lineOf(m))
	}
	return out.err
}

// lineOf is the schedule's part of a match.
func lineOf(m record.Match) matchLine {
	line := matchLine{
		Type: "match", Match: m.ID, Play: m.Play,
		Red:  sideLine{m.Red.Teams, m.Red.Surrogates},
		Blue: sideLine{m.Blue.Teams, m.Blue.Surrogates},
	}
	if !m.StartsAt.IsZero() {
		line.StartsAt = &m.StartsAt
	}
	return line
}

func exportMembers(ctx context.Context, tx pgx.Tx, event uuid.UUID, out *lineWriter) error {
	rows, err := tx.Query(ctx, `
		select
			member_id,
			role,
			nickname,
			coalesce(device_id, ''),
			made_at,
			removed_at
		from member
		where event_id = $1
		order by made_at, member_id`, event)
	if err != nil {
		return err
	}
	l := memberLine{Type: "member"}
	_, err = pgx.ForEachRow(rows, []any{&l.MemberID, &l.Role, &l.Nickname, &l.DeviceID, &l.MadeAt, &l.RemovedAt}, func() error {
		return out.write(l)
	})
	return err
}

func exportRevisions(ctx context.Context, tx pgx.Tx, event uuid.UUID, out *lineWriter) error {
	rows, err := tx.Query(ctx, `
		select
			r.revision_id,
			r.record_id,
			r.parents,
			r.kind,
			r.lamport,
			r.author,
			r.role,
			r.device_id,
			r.made_at,
			r.body,
			r.member_id,
			r.received_at,
			r.via,
			r.change_no,
			c.audience
		from revision r
		join change c on c.event_id = r.event_id and c.change_no = r.change_no
		where r.event_id = $1
		order by r.change_no`, event)
	if err != nil {
		return err
	}
	var l revisionLine
	targets := []any{
		&l.RevisionID, &l.RecordID, &l.Parents, &l.Kind, &l.Lamport, &l.Author, &l.Role, &l.DeviceID, &l.MadeAt, &l.Body,
		&l.MemberID, &l.ReceivedAt, &l.Via, &l.ChangeNo, &l.Audience,
	}
	_, err = pgx.ForEachRow(rows, targets, func() error {
		l.Type = "revision"
		return out.write(l)
	})
	return err
}

func exportChanges(ctx context.Context, tx pgx.Tx, event uuid.UUID, out *lineWriter) error {
	rows, err := tx.Query(ctx, `
		select change_no, kind, audience
		from change
		where event_id = $1 and kind <> 'record'
		order by change_no`, event)
	if err != nil {
		return err
	}
	l := changeLine{Type: "change"}
	_, err = pgx.ForEachRow(rows, []any{&l.ChangeNo, &l.Kind, &l.Audience}, func() error { return out.write(l) })
	return err
}

func exportBlobs(ctx context.Context, tx pgx.Tx, event uuid.UUID, out *lineWriter) error {
	rows, err := tx.Query(ctx, `
		select
			encode(sha256, 'hex'),
			media,
			bytes,
			made_at
		from blob
		where event_id = $1
		order by made_at, sha256`, event)
	if err != nil {
		return err
	}
	l := blobLine{Type: "blob"}
	_, err = pgx.ForEachRow(rows, []any{&l.SHA256, &l.Media, &l.Bytes, &l.MadeAt}, func() error { return out.write(l) })
	return err
}

func exportAudit(ctx context.Context, tx pgx.Tx, event uuid.UUID, out *lineWriter) error {
	rows, err := tx.Query(ctx, `
		select
			audit_id,
			at,
			member_id,
			what,
			detail
		from audit
		where event_id = $1
		order by at, audit_id`, event)
	if err != nil {
		return err
	}
	l := auditLine{Type: "audit"}
	_, err = pgx.ForEachRow(rows, []any{&l.AuditID, &l.At, &l.MemberID, &l.What, &l.Detail}, func() error { return out.write(l) })
	return err
}

// schedule is the match that a line holds.
func (l *matchLine) schedule() record.Match {
	m := record.Match{
		ID: l.Match, Play: l.Play,
		Red:  record.Alliance{Teams: l.Red.Teams, Surrogates: l.Red.Surrogates},
		Blue: record.Alliance{Teams: l.Blue.Teams, Surrogates: l.Blue.Surrogates},
	}
	if l.StartsAt != nil {
		m.StartsAt = l.StartsAt.In(time.UTC)
	}
	return m
}

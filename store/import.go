package store

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// Import says what ImportNDJSON makes of a file.
type Import struct {
	// Into is the event that takes over the revisions and missing members of the
	// file, which must be an export of that same event; game, teams and schedule
	// stay as they are. Zero: the event of the file is made anew.
	Into uuid.UUID
	// AccountID becomes a lead of an event that is made anew: the lead in the
	// file of that Nickname, else a new one. Zero: nobody.
	AccountID uuid.UUID
	Nickname  string
	DryRun    bool // tell what would be done, and do nothing
}

// Imported says what ImportNDJSON did, or would do.
type Imported struct {
	Event     Event
	Members   int // new ones
	Revisions int // new ones
	Known     int // revisions that were here already
	Refused   []Outcome
}

// LineError is a line of a file that cannot be read.
type LineError struct {
	Line    int // from 1
	Message string
}

func (e *LineError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Message) }

// restoreGap is left free behind the change numbers of a restored event. The
// lost server may have given out more numbers than the export knows; a device
// that asks with one of those must be told to start again, so none of them may
// be given out for something else. No event has as many changes.
const restoreGap = 1_000_000

// ImportNDJSON restores what ExportNDJSON wrote, in one transaction: all or
// nothing. Change numbers are kept, and a gap follows them, so that a device
// that saw later ones is told to start again. *LineError: a line cannot be
// read; ErrExists: the event is here and Into is zero; ErrInvalid: Into is
// another event; ErrNotFound: Into or the account does not exist.
func (db *DB) ImportNDJSON(ctx context.Context, r io.Reader, how Import) (done Imported, err error) {
	defer wrap(&err, "import an event")
	f, err := readExport(r)
	if err != nil {
		return Imported{}, err
	}
	if how.Into != uuid.Nil && how.Into != f.head.EventID {
		return Imported{}, fmt.Errorf("%w: the file is an export of another event, %q (%s)", ErrInvalid, f.event.Name, f.head.EventID)
	}
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		if how.Into != uuid.Nil {
			done, err = db.merge(ctx, tx, f)
		} else {
			done, err = db.restore(ctx, tx, f, how)
		}
		if err == nil && how.DryRun {
			err = errDryRun
		}
		return err
	})
	if errors.Is(err, errDryRun) {
		return done, nil
	}
	if err != nil {
		return Imported{}, err
	}
	db.hints.add(done.Event.ID)
	return done, nil
}

// exportFile is a whole export, read and checked.
type exportFile struct {
	head      headLine
	game      gameLine
	event     eventLine
	teams     []record.Team
	matches   []record.Match
	members   []memberLine
	revisions []revisionLine
	blobs     []blobLine
	changes   []changeLine
	audit     []auditLine
}

// maxLine is the length of a line that is still read, in bytes; the largest
// record has a few thousand taps.
const maxLine = 16 << 20

func readExport(r io.Reader) (*exportFile, error) {
	in := bufio.NewScanner(r)
	in.Buffer(nil, maxLine)
	var f exportFile
	n, ended := 0, false
	for in.Scan() {
		n++
		if len(bytes.TrimSpace(in.Bytes())) == 0 && ended {
			continue
		}
		if ended {
			return nil, &LineError{n, "there is something behind the end of the export"}
		}
		var err error
		if ended, err = f.take(n, in.Bytes()); err != nil {
			return nil, &LineError{n, err.Error()}
		}
	}
	switch {
	case errors.Is(in.Err(), bufio.ErrTooLong):
		return nil, &LineError{n + 1, fmt.Sprintf("the line is longer than %d MB", maxLine>>20)}
	case in.Err() != nil:
		return nil, in.Err()
	case n == 0:
		return nil, &LineError{1, "the file is empty"}
	case !ended:
		return nil, &LineError{n + 1, "the file ends before the end of the export: it was cut off. Export again, or use another copy"}
	}
	return &f, nil
}

// take reads one line.
func (f *exportFile) take(n int, line []byte) (ended bool, err error) {
	var l struct {
		Type string `json:"type"`
	}
	if err := json.Unmarshal(line, &l); err != nil {
		return false, fmt.Errorf("this is not a line of JSON: %w", err)
	}
	if n == 1 {
		if l.Type != exportForm {
			return false, errors.New(`this is not the export of an event: the first line must have "type": "` + exportForm + `"`)
		}
		if err := json.Unmarshal(line, &f.head); err != nil {
			return false, err
		}
		if f.head.Version != exportVersion {
			return false, fmt.Errorf("version %d of the form is not known here, only %d: import with the Sextant that wrote it, or a newer one", f.head.Version, exportVersion)
		}
		if f.head.EventID == uuid.Nil {
			return false, errors.New("event_id is missing")
		}
		return false, nil
	}
	switch l.Type {
	case "game":
		return false, json.Unmarshal(line, &f.game)
	case "event":
		return false, f.takeEvent(line)
	case "team":
		return false, add(&f.teams, line, func(l *teamLine) (record.Team, error) { return l.Team, nil })
	case "match":
		return false, add(&f.matches, line, func(l *matchLine) (record.Match, error) { return l.schedule(), nil })
	case "member":
		return false, add(&f.members, line, keep[memberLine])
	case "revision":
		return false, add(&f.revisions, line, checkRevisionLine)
	case "blob":
		return false, add(&f.blobs, line, checkBlobLine)
	case "change":
		return false, add(&f.changes, line, keep[changeLine])
	case "audit":
		return false, add(&f.audit, line, keep[auditLine])
	case "end":
		var end endLine
		if err := json.Unmarshal(line, &end); err != nil {
			return false, err
		}
		if end.Lines != n {
			return false, fmt.Errorf("the export had %d lines and this file has %d: some are missing or were added", end.Lines, n)
		}
		if f.game.Hash == "" || f.event.Name == "" {
			return false, errors.New("the export has no game or no event")
		}
		return true, nil
	}
	return false, fmt.Errorf("lines of type %.40q are not known here; they may be from a newer Sextant", l.Type)
}

func (f *exportFile) takeEvent(line []byte) error {
	if err := json.Unmarshal(line, &f.event); err != nil {
		return err
	}
	overrides, err := cleanBody(orEmpty(f.event.Overrides))
	if err != nil {
		return fmt.Errorf("overrides: %w", err)
	}
	f.event.Overrides = overrides
	if _, err := priorOf(f.event.Prior); err != nil {
		return err
	}
	if f.game.Hash != f.event.GameHash {
		return errors.New("the game of the event is not in the file before it")
	}
	return nil
}

func add[L, T any](to *[]T, line []byte, make func(*L) (T, error)) error {
	var l L
	if err := json.Unmarshal(line, &l); err != nil {
		return err
	}
	v, err := make(&l)
	if err == nil {
		*to = append(*to, v)
	}
	return err
}

func checkBlobLine(l *blobLine) (blobLine, error) {
	switch _, ok := l.digest(); {
	case !ok:
		return *l, fmt.Errorf("picture %.70q: its name is no SHA-256 in hexadecimal", l.SHA256)
	case l.Media != "image/jpeg" && l.Media != "image/png" || len(l.Bytes) == 0 || len(l.Bytes) > maxBlob:
		return *l, fmt.Errorf("picture %s: it is no JPEG or PNG of at most %d MB", l.SHA256, maxBlob>>20)
	}
	return *l, nil
}

// writeBlobs adds the pictures of a file; those that are here stay.
func (f *exportFile) writeBlobs(ctx context.Context, tx pgx.Tx) error {
	for i := range f.blobs {
		l := &f.blobs[i]
		id, _ := l.digest() // was checked when the line was read
		if err := insertBlob(ctx, tx, f.head.EventID, id, l.Media, l.Bytes, l.MadeAt); err != nil {
			return err
		}
	}
	return nil
}

func keep[L any](l *L) (L, error) { return *l, nil }

// checkRevisionLine checks a revision as Append does, and that its body can be
// read as what its kind is: Load depends on that.
func checkRevisionLine(l *revisionLine) (revisionLine, error) {
	it := Incoming{Revision: l.Revision, Via: l.Via}
	if reason := clean(&it); reason != "" {
		return *l, fmt.Errorf("revision %s: %s", l.RevisionID, reason)
	}
	l.Revision = it.Revision
	var err error
	switch l.Kind {
	case record.KindObservation:
		err = json.Unmarshal(l.Body, new(record.Observation))
	case record.KindResult:
		err = json.Unmarshal(l.Body, new(record.ResultBody))
	case record.KindMark:
		err = json.Unmarshal(l.Body, new(record.Mark))
	case record.KindTraining:
		err = json.Unmarshal(l.Body, new(record.Training))
	case record.KindJudgement:
		err = json.Unmarshal(l.Body, new(record.Judgement))
	}
	if err != nil {
		err = fmt.Errorf("revision %s: its body is no %s: %w", l.RevisionID, l.Kind, err)
	}
	return *l, err
}

// merge takes the revisions of a file over into the event that is there.
func (db *DB) merge(ctx context.Context, tx pgx.Tx, f *exportFile) (Imported, error) {
	event := f.head.EventID
	var done Imported
	if _, err := readChangeNo(ctx, tx, event); err != nil {
		return done, err
	}
	added, err := db.mergeMembers(ctx, tx, f)
	if err != nil {
		return done, err
	}
	done.Members = added
	if err := f.writeBlobs(ctx, tx); err != nil {
		return done, err
	}
	items := make([]Incoming, len(f.revisions))
	for i, l := range f.revisions {
		items[i] = Incoming{Revision: l.Revision, Via: "import"}
		if l.MemberID != nil {
			items[i].MemberID = *l.MemberID
		}
	}
	in, err := takeIn(ctx, tx, event, items)
	if err != nil {
		return done, err
	}
	for _, o := range in.outcomes {
		switch o.Verdict {
		case Stored:
			done.Revisions++
		case Known:
			done.Known++
		case Refused:
			done.Refused = append(done.Refused, o)
		}
	}
	if added > 0 {
		in.changes = append(in.changes, membersChanged...)
	}
	if _, err := db.publish(ctx, tx, event, in.moved, in.changes); err != nil {
		return done, err
	}
	done.Event, err = readEvent(ctx, tx, event)
	return done, err
}

// mergeMembers adds the members that are not here. One whose nickname has been
// taken since is kept as one who left.
func (db *DB) mergeMembers(ctx context.Context, tx pgx.Tx, f *exportFile) (int, error) {
	added := 0
	for _, m := range f.members {
		tag, err := tx.Exec(ctx, `
			insert into member (event_id, member_id, role, nickname, device_id, made_at, removed_at)
			select $1, $2, $3, $4, nullif($5, ''), $6,
				case when exists (
					select from member
					where event_id = $1 and lower(nickname) = lower($4) and removed_at is null
				) then coalesce($7::timestamptz, $8::timestamptz) else $7::timestamptz end
			on conflict (event_id, member_id) do nothing`,
			f.head.EventID, m.MemberID, m.Role, m.Nickname, m.DeviceID, m.MadeAt, m.RemovedAt, db.clock())
		if err != nil {
			return 0, err
		}
		added += int(tag.RowsAffected())
	}
	return added, nil
}

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

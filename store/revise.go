package store

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/game"
	"sextant/stats/record"
)

// By says who revises records, and by which door.
type By struct {
	Author   string // nickname
	MemberID uuid.UUID
	Role     record.Role
	DeviceID string
	Via      string
}

// Draft is a record as it should be. Body is the whole body, of merged kinds
// too; a member that is missing from it is left as it is there.
type Draft struct {
	RecordID uuid.UUID
	Kind     string
	Body     json.RawMessage
}

// Revise turns drafts into the revisions that make the records so, each built
// upon all present heads. A draft that says what the record says makes none.
// Nothing is stored: give the revisions to Append.
func (db *DB) Revise(ctx context.Context, event uuid.UUID, drafts []Draft, by By) (_ []Incoming, _ Replaced, err error) {
	defer wrap(&err, "revise records of event %s", event)
	ids := make([]uuid.UUID, len(drafts))
	for i, d := range drafts {
		ids[i] = d.RecordID
	}
	rows, err := db.pool.Query(ctx, standingQuery+` and r.record_id = any($2)`, event, ids)
	if err != nil {
		return nil, Replaced{}, err
	}
	there, err := collectStanding(rows)
	if err != nil {
		return nil, Replaced{}, err
	}
	byID := make(map[uuid.UUID]*standing, len(there))
	for i := range there {
		byID[there[i].id] = &there[i]
	}
	var wanted []wish
	for _, d := range drafts {
		body, err := cleanBody(d.Body)
		if err != nil {
			return nil, Replaced{}, fmt.Errorf("%w: the body of record %s is %w", ErrInvalid, d.RecordID, err)
		}
		s := byID[d.RecordID]
		if s != nil && record.Merged(d.Kind) {
			if body, err = patch(s.body, body); err != nil {
				return nil, Replaced{}, err
			}
			if body == nil {
				continue
			}
		} else if s != nil && sameJSON(s.body, body) {
			continue
		}
		wanted = append(wanted, wish{id: d.RecordID, kind: d.Kind, body: body, standing: s})
	}
	return db.grant(ctx, event, wanted, by)
}

// patch keeps the members of want that differ from have; nil: none does. A
// null says that there shall be no such member.
func patch(have, want json.RawMessage) (json.RawMessage, error) {
	var old, now map[string]json.RawMessage
	if err := json.Unmarshal(have, &old); err != nil {
		return nil, err
	}
	if err := json.Unmarshal(want, &now); err != nil {
		return nil, err
	}
	for name, value := range now {
		before, there := old[name]
		if there && sameJSON(before, value) || !there && string(value) == "null" {
			delete(now, name)
		}
	}
	if len(now) == 0 {
		return nil, nil
	}
	return encode(now)
}

// ObservationRevisions turns rows of a file into revisions against the records
// that are there. A row's identity is match, play, team and scout. A row that
// says what the record says makes no revision; a file cannot hold a timeline,
// so it is kept, and counts which then differ from it are marked as edited. Of
// parts that scouts handed to each other a file has one row (record.Rows): if
// it differs, its record is of the whole match from then on. A part alone stays
// one. Two rows of one identity are ErrInvalid. Nothing is stored.
func (db *DB) ObservationRevisions(ctx context.Context, event uuid.UUID, g *game.Game, rows []record.Observation, by By) (_ []Incoming, _ Replaced, err error) {
	defer wrap(&err, "compare observations of event %s", event)
	return fromRows(ctx, db, event, by, rows, rowKind[record.Observation]{
		kind: record.KindObservation,
		key:  func(o *record.Observation) string { return o.Key() },
		id: func(o *record.Observation) uuid.UUID {
			return record.ObservationID(event, o.Match, o.Play, o.Team, o.Scout)
		},
		told: func(all []record.Observation) []record.Observation {
			parts := slices.DeleteFunc(slices.Clone(all), func(o record.Observation) bool { return !o.Part() })
			return record.Rows(g, parts)
		},
		plain: func(o record.Observation) record.Observation {
			o.Play, o.From, o.To, o.Taps, o.AnswersTo, o.Edited, o.Discarded = record.PlayOf(o.Play), nil, nil, nil, nil, false, false
			o.Checked, o.Reason = false, ""
			return o
		},
		build: func(row, old, told record.Observation) record.Observation {
			row.Play, row.Taps, row.Edited = record.PlayOf(row.Play), old.Taps, old.Edited || len(old.Taps) > 0
			if row.Absent {
				return row
			}
			row.AnswersTo = old.AnswersTo
			if told.Part() {
				row.From, row.To = old.From, old.To
				if row.Counts == nil && row.Choices == nil && row.Fouls == nil {
					row.Counts, row.Choices, row.Fouls = old.Counts, old.Choices, old.Fouls
				}
			}
			return row
		},
	})
}

// ResultRevisions turns the results of matches into revisions. A match without
// a result says nothing about one that is there. Nothing is stored: give them
// to ReplaceSchedule or Append.
func (db *DB) ResultRevisions(ctx context.Context, event uuid.UUID, matches []record.Match, by By) (_ []Incoming, _ Replaced, err error) {
	defer wrap(&err, "compare results of event %s", event)
	var rows []record.ResultBody
	for i := range matches {
		for _, side := range []record.Colour{record.Red, record.Blue} {
			if b := record.BodyOf(&matches[i], side); b != nil {
				rows = append(rows, *b)
			}
		}
	}
	whole := func(b record.ResultBody) record.ResultBody {
		b.Play = record.PlayOf(b.Play)
		return b
	}
	return fromRows(ctx, db, event, by, rows, rowKind[record.ResultBody]{
		kind: record.KindResult,
		key: func(b *record.ResultBody) string {
			return fmt.Sprintf("%s/%d/%s", b.Match, record.PlayOf(b.Play), b.Alliance)
		},
		id: func(b *record.ResultBody) uuid.UUID {
			return record.ResultID(event, b.Match, b.Play, b.Alliance)
		},
		plain: whole, // a result that is stated again counts again
		build: func(row, _, _ record.ResultBody) record.ResultBody { return whole(row) },
	})
}

// MarkRevisions turns rows of a file into revisions. A row's identity is team,
// match and kind; the same one twice in rows is ErrInvalid. Nothing is stored.
func (db *DB) MarkRevisions(ctx context.Context, event uuid.UUID, rows []record.Mark, by By) (_ []Incoming, _ Replaced, err error) {
	defer wrap(&err, "compare marks of event %s", event)
	return fromRows(ctx, db, event, by, rows, rowKind[record.Mark]{
		kind: record.KindMark,
		key:  markKey,
		id:   func(m *record.Mark) uuid.UUID { return markID(event, m) },
		plain: func(m record.Mark) record.Mark {
			m.Discarded = false
			return m
		},
		build: func(row, _, _ record.Mark) record.Mark { return row },
	})
}

func markKey(m *record.Mark) string { return m.Match.String() + "/" + string(m.Team) + "/" + m.Kind }

// markID is the record of a row. Devices give marks random ids; that of a row
// follows from the row, so that a file which is imported twice at once makes no
// second mark.
func markID(event uuid.UUID, m *record.Mark) uuid.UUID {
	return uuid.NewSHA1(event, []byte("mark/"+markKey(m)))
}

// rowKind says how rows of a file become records of one kind.
type rowKind[T any] struct {
	kind  string
	key   func(*T) string          // identity within the event
	id    func(*T) uuid.UUID       // of a record that is made for a row
	told  func([]T) []T            // the records that a file does not have as they are; nil: none
	plain func(T) T                // what a file can say of a body
	build func(row, old, told T) T // the new body; old and told are of the record that is there
}

// fromRows compares rows with the records of their kind. A record's identity is
// what its body says now, so that a row finds a record that was moved; where
// two records have one identity, the one that was made for it is meant.
func fromRows[T any](ctx context.Context, db *DB, event uuid.UUID, by By, rows []T, k rowKind[T]) ([]Incoming, Replaced, error) {
	stored, err := db.pool.Query(ctx, standingQuery+` and r.kind = $2 order by r.record_id`, event, k.kind)
	if err != nil {
		return nil, Replaced{}, err
	}
	there, err := collectStanding(stored)
	if err != nil {
		return nil, Replaced{}, err
	}
	bodies := make([]T, len(there))
	byKey, byID := map[string]int{}, map[uuid.UUID]bool{}
	for i, s := range there {
		if err := json.Unmarshal(s.body, &bodies[i]); err != nil {
			return nil, Replaced{}, fmt.Errorf("read the body of %s %s: %w", k.kind, s.id, err)
		}
		key := k.key(&bodies[i])
		if _, taken := byKey[key]; !taken || s.id == k.id(&bodies[i]) {
			byKey[key] = i
		}
		byID[s.id] = true
	}
	told := map[string]T{}
	if k.told != nil {
		for _, b := range k.told(bodies) {
			told[k.key(&b)] = b
		}
	}
	var wanted []wish
	seen := map[string]bool{}
	for i := range rows {
		row := &rows[i]
		key := k.key(row)
		if seen[key] {
			return nil, Replaced{}, fmt.Errorf("%w: %s %s stands twice", ErrInvalid, k.kind, key)
		}
		seen[key] = true
		var old, now T
		w := wish{id: k.id(row), kind: k.kind}
		if at, ok := byKey[key]; ok {
			w.standing, old = &there[at], bodies[at]
			w.id = w.standing.id
			if told, ok := told[key]; ok {
				now = told
			} else {
				now = old
			}
			same, err := sameValue(k.plain(*row), k.plain(now))
			if err != nil {
				return nil, Replaced{}, err
			}
			if same {
				continue
			}
		}
		// The record that this id was made for may have been moved to another
		// identity. It stays there, and the row gets a record of its own.
		for w.standing == nil && byID[w.id] {
			w.id = uuid.NewSHA1(w.id, []byte(key))
		}
		if w.body, err = encode(k.build(*row, old, now)); err != nil {
			return nil, Replaced{}, fmt.Errorf("%w: %s %s: %w", ErrInvalid, k.kind, key, err)
		}
		wanted = append(wanted, w)
	}
	return db.grant(ctx, event, wanted, by)
}

func sameValue(a, b any) (bool, error) {
	x, err := encode(a)
	if err != nil {
		return false, fmt.Errorf("%w: %w", ErrInvalid, err)
	}
	y, err := encode(b)
	return err == nil && string(x) == string(y), err
}

// standing is a record as a new revision is built upon it.
type standing struct {
	id      uuid.UUID
	heads   []uuid.UUID
	lamport int64 // the highest of all revisions
	body    json.RawMessage
}

const standingQuery = `
	select
		r.record_id,
		r.heads,
		(select max(x.lamport) from revision x where x.event_id = r.event_id and x.record_id = r.record_id),
		coalesce(r.body, v.body)
	from record r
	join revision v on v.event_id = r.event_id and v.revision_id = r.head
	where r.event_id = $1`

func collectStanding(rows pgx.Rows) ([]standing, error) {
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (standing, error) {
		var s standing
		err := row.Scan(&s.id, &s.heads, &s.lamport, &s.body)
		return s, err
	})
}

// wish is a record and the body of the revision that it shall get.
type wish struct {
	id       uuid.UUID
	kind     string
	body     json.RawMessage
	standing *standing // nil: a new record
}

// grant makes the revisions.
func (db *DB) grant(ctx context.Context, event uuid.UUID, wanted []wish, by By) ([]Incoming, Replaced, error) {
	var done Replaced
	out := make([]Incoming, len(wanted))
	ids := make([]uuid.UUID, len(wanted))
	for i, w := range wanted {
		body, err := cleanBody(w.body)
		if err != nil {
			return nil, done, fmt.Errorf("%w: %s %s: its body is %w", ErrInvalid, w.kind, w.id, err)
		}
		r := record.Revision{
			RevisionID: record.ImportID(w.id, body), RecordID: w.id, Parents: []uuid.UUID{}, Kind: w.kind, Lamport: 1,
			Author: by.Author, Role: by.Role, DeviceID: by.DeviceID, MadeAt: db.clock(), Body: body,
		}
		if w.standing == nil {
			done.Added++
		} else {
			done.Changed++
			r.Parents, r.Lamport = slices.Clone(w.standing.heads), w.standing.lamport+1
		}
		out[i], ids[i] = Incoming{Revision: r, MemberID: by.MemberID, Via: cmp.Or(by.Via, "import")}, r.RevisionID
	}
	// Content that came back after a change needs a revision of its own: the one
	// with the id of that content is an ancestor now.
	rows, err := db.pool.Query(ctx, `
		select revision_id
		from revision
		where event_id = $1 and revision_id = any($2)`, event, ids)
	if err != nil {
		return nil, done, err
	}
	taken, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	if err != nil {
		return nil, done, err
	}
	used := make(map[uuid.UUID]bool, len(taken))
	for _, id := range taken {
		used[id] = true
	}
	for i := range out {
		if used[out[i].RevisionID] {
			out[i].RevisionID = newID()
		}
	}
	done.ChangeNo, err = readChangeNo(ctx, db.pool, event)
	return out, done, err
}

// playIn is the play of a match that a result's body names.
func playIn(body json.RawMessage) (play, bool) {
	var b record.ResultBody
	if json.Unmarshal(body, &b) != nil {
		return play{}, false
	}
	return play{b.Match, record.PlayOf(b.Play)}, true
}

package store

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// Incoming is a revision that comes in by some door. Author is the nickname,
// Role the role that the person has at the door.
type Incoming struct {
	record.Revision
	MemberID uuid.UUID // who that is, for "own records"; zero: not known here
	Via      string    // the door: "sync", "import", "form", …, or LetInBy
}

const letInBy = "let in by "

// LetInBy is the door of a revision that a lead of this nickname accepted for
// somebody else.
func LetInBy(lead string) string { return letInBy + lead }

// WhoLetIn is the lead's nickname of a door made by LetInBy; empty for others.
func WhoLetIn(via string) string {
	lead, ok := strings.CutPrefix(via, letInBy)
	if !ok {
		return ""
	}
	return lead
}

// Verdict says what became of an incoming revision.
type Verdict string

// The three verdicts.
const (
	Stored  Verdict = "stored"
	Known   Verdict = "known" // it was here already
	Refused Verdict = "refused"
)

// Outcome is what became of one incoming revision.
type Outcome struct {
	RevisionID uuid.UUID
	Verdict    Verdict
	Reason     string // a sentence for people; only with Refused
}

// Append stores revisions of an event and derives the records anew. It may be
// repeated: what is here already is Known. Outcomes are in the order of items.
// changeNo is the event's last change number afterwards; the new revisions have
// one range of numbers. Bodies are the caller's to check; what the database
// cannot keep is refused, item by item. A record belongs to the scout whose
// revision of it came first.
// ErrNotFound: no such event; ErrInvalid: MemberID is no member of it.
func (db *DB) Append(ctx context.Context, event uuid.UUID, items []Incoming) (_ []Outcome, changeNo int64, err error) {
	defer wrap(&err, "append to event %s", event)
	var in intake
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		if in, err = takeIn(ctx, tx, event, items); err != nil {
			return err
		}
		changeNo, err = db.publish(ctx, tx, event, in.moved, in.changes)
		return err
	})
	if err != nil {
		return nil, 0, err
	}
	if len(in.changes) > 0 {
		db.hints.add(event)
	}
	return in.outcomes, changeNo, nil
}

// intake is what takeIn found out.
type intake struct {
	outcomes []Outcome // in the order of the items
	changes  []change  // for publish, which stores the revisions
	moved    bool      // what an analysis reads has changed
}

func (in *intake) refuse(i int, format string, args ...any) {
	in.outcomes[i].Verdict, in.outcomes[i].Reason = Refused, fmt.Sprintf(format, args...)
}

// takeIn locks the records that the items belong to, decides about each item
// and derives the records. The caller must publish the changes in the same
// transaction, as its last statement, and may lock nothing of the event before.
func takeIn(ctx context.Context, tx pgx.Tx, event uuid.UUID, items []Incoming) (intake, error) {
	in := intake{outcomes: make([]Outcome, len(items))}
	items = slices.Clone(items)
	for i := range items {
		in.outcomes[i] = Outcome{RevisionID: items[i].RevisionID, Verdict: Stored}
		if reason := clean(&items[i]); reason != "" {
			in.refuse(i, "%s", reason)
		}
	}
	lot, err := lockRecords(ctx, tx, event, items, in.outcomes)
	if err != nil || lot == nil {
		return in, err
	}
	lot.decide(items, &in)
	return in, lot.save(ctx, tx, event, &in)
}

var kindForm = regexp.MustCompile(`^[a-z][a-z_]{0,39}$`)

// clean brings an item into the form that is kept, or says why it cannot be.
func clean(it *Incoming) (reason string) {
	switch {
	case it.RevisionID == uuid.Nil:
		return "it has no revision_id"
	case it.RecordID == uuid.Nil:
		return "it has no record_id"
	case !kindForm.MatchString(it.Kind):
		return fmt.Sprintf("%.40q is no kind of record", it.Kind)
	case it.Lamport < 0:
		return "its lamport number is negative"
	case it.Role != record.RoleScout && it.Role != record.RoleCoach && it.Role != record.RoleLead:
		return fmt.Sprintf("%.40q is no role", it.Role)
	case slices.Contains(it.Parents, it.RevisionID):
		return "it names itself as its parent"
	case it.MadeAt.Year() < 1 || it.MadeAt.Year() > 9999:
		return "its time is not within the years 1 to 9999"
	}
	for _, text := range []string{it.Author, it.DeviceID, it.Via} {
		if err := checkValue(text); err != nil {
			return err.Error()
		}
	}
	body, err := cleanBody(it.Body)
	if err != nil {
		return "its body is " + err.Error()
	}
	it.Body = body
	return ""
}

// lot are the locked records of a batch.
type lot struct {
	records map[uuid.UUID]*drawn
	order   []uuid.UUID                   // sorted
	here    map[uuid.UUID]record.Revision // of the items, those that are stored
}

// drawn is one locked record with all its revisions.
type drawn struct {
	kind   string
	head   uuid.UUID // before; zero: the record is new
	owner  *uuid.UUID
	revs   []record.Revision   // bodies only of merged kinds and new ones
	named  map[uuid.UUID]names // by revision
	stored int                 // new revisions
}

// names are the match and team that a body names; anything else is left out.
type names struct {
	match record.MatchID
	team  record.TeamID
}

func namesIn(match, team string) names {
	var n names
	if id, err := record.ParseMatch(match); err == nil {
		n.match = id
	}
	if record.ValidTeam(team) {
		n.team = record.TeamID(team)
	}
	return n
}

func namesOf(body json.RawMessage) names {
	var b struct{ Match, Team json.RawMessage }
	var match, team string
	if json.Unmarshal(body, &b) == nil {
		// A member that is no text names nothing.
		_, _ = json.Unmarshal(b.Match, &match), json.Unmarshal(b.Team, &team)
	}
	return namesIn(match, team)
}

// lockRecords makes rows for new records, so that there is something to lock,
// and locks all in one order. nil: no item is left.
func lockRecords(ctx context.Context, tx pgx.Tx, event uuid.UUID, items []Incoming, outcomes []Outcome) (*lot, error) {
	first := map[uuid.UUID]*Incoming{}
	var l lot
	for i := range items {
		id := items[i].RecordID
		if outcomes[i].Verdict == Stored && first[id] == nil {
			first[id] = &items[i]
			l.order = append(l.order, id)
		}
	}
	if len(first) == 0 {
		return nil, nil
	}
	slices.SortFunc(l.order, func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	kinds, heads := make([]string, len(l.order)), make([]uuid.UUID, len(l.order))
	for i, id := range l.order {
		kinds[i], heads[i] = first[id].Kind, first[id].RevisionID
	}
	l.records = make(map[uuid.UUID]*drawn, len(l.order))
	l.here = map[uuid.UUID]record.Revision{}
	// Each statement sees what was committed when it begins, so the revisions
	// are read as they are once the locks are held. They go over together.
	//
	// Each looks one row up after the other (lateral), in the order of the array:
	// the locks need that order, and a join would leave it to the planner, which
	// reads the whole event when its statistics are behind, as on a match day.
	var b pgx.Batch
	l.queueLocks(&b, event, kinds, heads)
	l.queueRevisions(&b, event)
	l.queueKnown(&b, event, items)
	return &l, tx.SendBatch(ctx, &b).Close()
}

// queueLocks asks for rows of new records and for the locks on all.
func (l *lot) queueLocks(b *pgx.Batch, event uuid.UUID, kinds []string, heads []uuid.UUID) {
	var made []uuid.UUID
	// The head that is written here is a promise, kept or withdrawn by save.
	b.Queue(`
		insert into record (event_id, record_id, kind, head, heads)
		select $1, t.record_id, t.kind, t.head, array[t.head]
		from unnest($2::uuid[], $3::text[], $4::uuid[]) as t (record_id, kind, head)
		order by t.record_id
		on conflict (event_id, record_id) do nothing
		returning record_id`, event, l.order, kinds, heads).Query(func(rows pgx.Rows) (err error) {
		made, err = pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
		return err
	})
	b.Queue(`
		select
			r.record_id,
			r.kind,
			r.head,
			r.owner
		from unnest($2::uuid[]) as t (record_id)
		cross join lateral (
			select record_id, kind, head, owner
			from record
			where event_id = $1 and record_id = t.record_id
			for no key update
		) r`, event, l.order).Query(func(rows pgx.Rows) error {
		var id, head uuid.UUID
		var kind string
		var owner *uuid.UUID
		_, err := pgx.ForEachRow(rows, []any{&id, &kind, &head, &owner}, func() error {
			l.records[id] = &drawn{kind: kind, head: head, owner: owner, named: map[uuid.UUID]names{}}
			return nil
		})
		for _, id := range made {
			if d := l.records[id]; d != nil {
				d.head, d.kind = uuid.Nil, ""
			}
		}
		return err
	})
}

// queueRevisions asks for the revisions of the locked records.
func (l *lot) queueRevisions(b *pgx.Batch, event uuid.UUID) {
	b.Queue(`
		select
			r.revision_id,
			r.record_id,
			r.parents,
			r.kind,
			r.lamport,
			r.role,
			coalesce(r.body->>'match', ''),
			coalesce(r.body->>'team', ''),
			case when r.kind = any($3) then r.body end
		from unnest($2::uuid[]) as t (record_id)
		cross join lateral (
			select revision_id, record_id, parents, kind, lamport, role, body
			from revision
			where event_id = $1 and record_id = t.record_id
			order by change_no
		) r`, event, l.order, readKinds).Query(func(rows pgx.Rows) error {
		var r record.Revision
		var match, team string
		targets := []any{&r.RevisionID, &r.RecordID, &r.Parents, &r.Kind, &r.Lamport, &r.Role, &match, &team, &r.Body}
		_, err := pgx.ForEachRow(rows, targets, func() error {
			d := l.records[r.RecordID]
			d.revs = append(d.revs, r)
			d.named[r.RevisionID] = namesIn(match, team)
			r.Parents, r.Body = nil, nil // the next row must not write into these
			return nil
		})
		return err
	})
}

// queueKnown asks which of the items are stored already, in any record.
func (l *lot) queueKnown(b *pgx.Batch, event uuid.UUID, items []Incoming) {
	ids := make([]uuid.UUID, len(items))
	for i := range items {
		ids[i] = items[i].RevisionID
	}
	b.Queue(`
		select
			r.revision_id,
			r.record_id,
			r.kind,
			r.body
		from unnest($2::uuid[]) as t (revision_id)
		cross join lateral (
			select revision_id, record_id, kind, body
			from revision
			where event_id = $1 and revision_id = t.revision_id
			limit 1
		) r`, event, ids).Query(func(rows pgx.Rows) error {
		var r record.Revision
		_, err := pgx.ForEachRow(rows, []any{&r.RevisionID, &r.RecordID, &r.Kind, &r.Body}, func() error {
			l.here[r.RevisionID] = r
			r.Body = nil
			return nil
		})
		return err
	})
}

// readKinds are the kinds of which all bodies are read: record.Resolve needs
// those of the merged ones, the audience that of a question.
var readKinds = []string{record.KindList, record.KindEntry, record.KindNote, record.KindSketch, record.KindAgreement, record.KindDebrief, record.KindQuestion}

// decide settles each item that is still open.
func (l *lot) decide(items []Incoming, in *intake) {
	for i := range items {
		it := &items[i]
		if in.outcomes[i].Verdict != Stored {
			continue
		}
		d := l.records[it.RecordID]
		if before, ok := l.here[it.RevisionID]; ok {
			if before.RecordID == it.RecordID && before.Kind == it.Kind && sameJSON(before.Body, it.Body) {
				in.outcomes[i].Verdict = Known
			} else {
				in.refuse(i, "another revision with this revision_id is stored already; save the record again, which gives it a new one")
			}
			continue
		}
		if d.kind != "" && d.kind != it.Kind {
			in.refuse(i, "the record is of kind %s, not %s", d.kind, it.Kind)
			continue
		}
		l.here[it.RevisionID] = it.Revision
		d.add(it)
		in.changes = append(in.changes, change{kind: ChangeRecord, audience: d.audience(it), revision: it})
	}
}

// add takes a new revision in.
func (d *drawn) add(it *Incoming) {
	if len(d.revs) == 0 && it.Role == record.RoleScout {
		d.owner = orNull(it.MemberID)
	}
	d.kind = it.Kind
	d.revs = append(d.revs, it.Revision)
	d.named[it.RevisionID] = namesOf(it.Body)
	d.stored++
}

// audience is who sees a revision besides lead and coach: the scout who made
// it, or else the scout whose record it is. Who sits where goes to all. A question that was ever asked of
// scouts goes to all, so that a tablet hears when it is settled.
func (d *drawn) audience(it *Incoming) string {
	switch {
	case it.Kind == record.KindSeat:
		return forAll
	case it.Kind == record.KindQuestion:
		if slices.ContainsFunc(d.revs, func(r record.Revision) bool { return askedOfScouts(r.Body) }) {
			return forAll
		}
	case it.Role == record.RoleScout && it.MemberID != uuid.Nil:
		return forMember(it.MemberID)
	case d.owner != nil:
		return forMember(*d.owner)
	}
	return forStaff
}

func askedOfScouts(body json.RawMessage) bool {
	var b struct {
		AskedOf json.RawMessage `json:"asked_of"`
	}
	return json.Unmarshal(body, &b) == nil && string(b.AskedOf) == `"`+record.AskedOfScouts+`"`
}

// save writes what the records say now.
func (l *lot) save(ctx context.Context, tx pgx.Tx, event uuid.UUID, in *intake) error {
	var (
		ids, heads, empty     []uuid.UUID
		owners                []*uuid.UUID
		kinds, allHeads       []string
		conflicts             []bool
		stages, teams, bodies []*string
		numbers               []*int
	)
	for _, id := range l.order {
		d := l.records[id]
		if d.stored == 0 {
			if d.head == uuid.Nil {
				empty = append(empty, id)
			}
			continue
		}
		now := record.Resolve(d.revs)
		if now.Head != d.head && movesData(d.kind) {
			in.moved = true
		}
		about := d.named[now.Head]
		var body *string
		if record.Merged(d.kind) {
			text := string(now.Body)
			body, about = &text, namesOf(now.Body)
		}
		var stage, team *string
		var number *int
		if about.match != (record.MatchID{}) {
			s := string(about.match.Stage)
			stage, number = &s, &about.match.Number
		}
		if about.team != "" {
			t := string(about.team)
			team = &t
		}
		ids, heads, allHeads = append(ids, id), append(heads, now.Head), append(allHeads, arrayText(now.Heads))
		kinds, owners, conflicts = append(kinds, d.kind), append(owners, d.owner), append(conflicts, now.Conflict)
		stages, numbers, teams, bodies = append(stages, stage), append(numbers, number), append(teams, team), append(bodies, body)
	}
	if len(empty) > 0 {
		if _, err := tx.Exec(ctx, `delete from record where event_id = $1 and record_id = any($2)`, event, empty); err != nil {
			return err
		}
	}
	if len(ids) == 0 {
		return nil
	}
	stored := make([]uuid.UUID, len(in.changes))
	for i, c := range in.changes {
		stored[i] = c.revision.RevisionID
	}
	// The rows are there: this is an update that finds each by its key. What was
	// kept apart of a signed-out device has come in now.
	_, err := tx.Exec(ctx, `
		with accepted as (
			delete from held where event_id = $1 and revision_id = any($12)
		)
		insert into record (event_id, record_id, kind, head, heads, conflict, owner, stage, number, team, body)
		select
			$1,
			t.record_id,
			t.kind,
			t.head,
			t.heads::uuid[],
			t.conflict,
			t.owner,
			t.stage,
			t.number,
			t.team,
			t.body::jsonb
		from unnest(
			$2::uuid[], $3::text[], $4::uuid[], $5::text[], $6::boolean[],
			$7::uuid[], $8::text[], $9::integer[], $10::text[], $11::text[]
		) as t (record_id, kind, head, heads, conflict, owner, stage, number, team, body)
		on conflict (event_id, record_id) do update set
			kind = excluded.kind,
			head = excluded.head,
			heads = excluded.heads,
			conflict = excluded.conflict,
			owner = excluded.owner,
			stage = excluded.stage,
			number = excluded.number,
			team = excluded.team,
			body = excluded.body`,
		event, ids, kinds, heads, allHeads, conflicts, owners, stages, numbers, teams, bodies, stored)
	return err
}

// movesData reports whether an analysis reads records of a kind.
func movesData(kind string) bool {
	switch kind {
	case record.KindObservation, record.KindResult, record.KindMark, record.KindTraining, record.KindJudgement:
		return true
	}
	return false
}

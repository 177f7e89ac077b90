package store_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

func TestAppend(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	ana := storetest.Scout(t, db, ev.ID, "ana")
	o := storetest.Observation("Q1", "40101", "ana", 4)
	first := storetest.Observed(ev.ID, ana, o)
	before := must[store.Event](t)(db.Event(t.Context(), ev.ID))

	outcomes, changeNo, err := db.Append(t.Context(), ev.ID, []store.Incoming{first})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "outcomes", []store.Outcome{{RevisionID: first.RevisionID, Verdict: store.Stored}}, outcomes)
	after := must[store.Event](t)(db.Event(t.Context(), ev.ID))
	if changeNo != before.ChangeNo+1 || after.ChangeNo != changeNo || after.DataNo != before.DataNo+1 {
		t.Errorf("change_no %d then %d (answer %d), data_no %d then %d", before.ChangeNo, after.ChangeNo, changeNo, before.DataNo, after.DataNo)
	}

	t.Run("Repeated", func(t *testing.T) {
		outcomes, again, err := db.Append(t.Context(), ev.ID, []store.Incoming{first, first})
		if err != nil {
			t.Fatal(err)
		}
		known := store.Outcome{RevisionID: first.RevisionID, Verdict: store.Known}
		same(t, "outcomes", []store.Outcome{known, known}, outcomes)
		if again != changeNo {
			t.Errorf("change_no moved from %d to %d", changeNo, again)
		}
	})
	t.Run("CorrectedByLead", func(t *testing.T) {
		better := storetest.Observation("Q1", "40102", "ana", 5) // it was the other robot
		fix := storetest.Revision(record.KindObservation, first.RecordID, lead, better, first.RevisionID)
		storetest.Append(t, db, ev.ID, fix)
		got := must[store.Record](t)(db.Record(t.Context(), ev.ID, first.RecordID))
		same(t, "record", store.Record{
			ID: first.RecordID, Kind: record.KindObservation, Head: fix.RevisionID, Heads: []uuid.UUID{fix.RevisionID},
			Owner: ana.ID, Match: o.Match, Team: "40102", Author: "lead", Role: record.RoleLead, MadeAt: fix.MadeAt, Body: fix.Body,
		}, got)
	})
	t.Run("TwoHeadsAreAConflict", func(t *testing.T) {
		late := storetest.Revision(record.KindObservation, first.RecordID, ana, o, first.RevisionID)
		storetest.Append(t, db, ev.ID, late)
		got := must[store.Record](t)(db.Record(t.Context(), ev.ID, first.RecordID))
		if !got.Conflict || len(got.Heads) != 2 || got.Heads[1] != late.RevisionID || got.Role != record.RoleLead {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("Revisions", func(t *testing.T) {
		got := must[[]store.Kept](t)(db.Revisions(t.Context(), ev.ID, first.RecordID))
		if len(got) != 3 {
			t.Fatalf("%d revisions, want 3", len(got))
		}
		same(t, "first", first.Revision, got[0].Revision)
		if got[0].MemberID != ana.ID || got[0].Via != "sync" || got[0].ChangeNo != changeNo || time.Since(got[0].ReceivedAt) > time.Minute {
			t.Errorf("kept as %+v", got[0])
		}
		_, err := db.Revisions(t.Context(), ev.ID, uuid.New())
		wantError(t, err, store.ErrNotFound)
		_, err = db.Record(t.Context(), ev.ID, uuid.New())
		wantError(t, err, store.ErrNotFound)
	})
	t.Run("UnknownEvent", func(t *testing.T) {
		_, _, err := db.Append(t.Context(), uuid.New(), []store.Incoming{first})
		wantError(t, err, store.ErrNotFound)
		_, _, err = db.Append(t.Context(), uuid.New(), nil)
		wantError(t, err, store.ErrNotFound)
	})
	t.Run("AuthorOfAnotherEvent", func(t *testing.T) {
		other, _ := storetest.Event(t, db, nil)
		_, _, err := db.Append(t.Context(), other.ID, []store.Incoming{first})
		wantError(t, err, store.ErrInvalid)
		if n := must[[]store.Record](t)(db.Records(t.Context(), other.ID, store.Filter{})); len(n) != 0 {
			t.Errorf("%d records are left of it", len(n))
		}
	})
}

// TestAppendRefuses: each bad item is refused with a reason, the good ones
// beside it are stored, and nothing is left of the bad ones.
func TestAppendRefuses(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	note := func(change func(*store.Incoming)) store.Incoming {
		it := storetest.Revision(record.KindNote, uuid.Must(uuid.NewV7()), lead, map[string]any{"text": "x"})
		if change != nil {
			change(&it)
		}
		return it
	}
	there := note(nil)
	storetest.Append(t, db, ev.ID, there)
	tests := map[string]struct {
		item   store.Incoming
		reason string
	}{
		"NoRevisionID":    {note(func(i *store.Incoming) { i.RevisionID = uuid.Nil }), "revision_id"},
		"NoRecordID":      {note(func(i *store.Incoming) { i.RecordID = uuid.Nil }), "record_id"},
		"Kind":            {note(func(i *store.Incoming) { i.Kind = "Robert'); drop table record" }), "no kind"},
		"Role":            {note(func(i *store.Incoming) { i.Role = "root" }), "no role"},
		"Lamport":         {note(func(i *store.Incoming) { i.Lamport = -1 }), "lamport"},
		"OwnParent":       {note(func(i *store.Incoming) { i.Parents = []uuid.UUID{i.RevisionID} }), "parent"},
		"Year":            {note(func(i *store.Incoming) { i.MadeAt = time.Date(12031, 1, 1, 0, 0, 0, 0, time.UTC) }), "years"},
		"NotJSON":         {note(func(i *store.Incoming) { i.Body = json.RawMessage(`{"a":`) }), "not a JSON object"},
		"Array":           {note(func(i *store.Incoming) { i.Body = json.RawMessage(`[]`) }), "not a JSON object"},
		"Null":            {note(func(i *store.Incoming) { i.Body = json.RawMessage(`null`) }), "not a JSON object"},
		"Two":             {note(func(i *store.Incoming) { i.Body = json.RawMessage(`{} {}`) }), "behind"},
		"NUL":             {note(func(i *store.Incoming) { i.Body = json.RawMessage(`{"text":"a\u0000b"}`) }), "U+0000"},
		"Infinity":        {note(func(i *store.Incoming) { i.Body = json.RawMessage(`{"n":1e999}`) }), "too large"},
		"NULInAuthor":     {note(func(i *store.Incoming) { i.Author = "a\x00b" }), "U+0000"},
		"NotUTF8":         {note(func(i *store.Incoming) { i.DeviceID = "\xff" }), "UTF-8"},
		"IDOfAnother":     {note(func(i *store.Incoming) { i.RevisionID = there.RevisionID }), "stored already"},
		"OtherContent":    {func() store.Incoming { i := there; i.Body = json.RawMessage(`{"text":"y"}`); return i }(), "stored already"},
		"KindOfTheRecord": {note(func(i *store.Incoming) { i.RecordID, i.Kind = there.RecordID, record.KindMark }), "of kind note"},
	}
	names := slices.Sorted(maps.Keys(tests))
	batch := []store.Incoming{note(nil)}
	for _, name := range names {
		batch = append(batch, tests[name].item)
	}
	batch = append(batch, note(func(i *store.Incoming) {
		i.Body = json.RawMessage(`{"text":"<script>alert('1');</script> \ud800 \\u0000"}`)
	}))
	outcomes, _, err := db.Append(t.Context(), ev.ID, batch)
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range names {
		o := outcomes[i+1]
		if o.Verdict != store.Refused || !strings.Contains(o.Reason, tests[name].reason) {
			t.Errorf("%s: %s %q, want refused for %q", name, o.Verdict, o.Reason, tests[name].reason)
		}
	}
	for _, i := range []int{0, len(batch) - 1} {
		if outcomes[i].Verdict != store.Stored {
			t.Errorf("item %d is %s: %s", i, outcomes[i].Verdict, outcomes[i].Reason)
		}
	}
	all := must[[]store.Record](t)(db.Records(t.Context(), ev.ID, store.Filter{}))
	var rows int
	if err := db.Pool().QueryRow(t.Context(), `select count(*) from record`).Scan(&rows); err != nil {
		t.Fatal(err)
	}
	if len(all) != 3 || rows != 3 {
		t.Errorf("%d records in %d rows, want the 3 that were stored", len(all), rows)
	}
	got := must[store.Record](t)(db.Record(t.Context(), ev.ID, batch[len(batch)-1].RecordID))
	same(t, "hostile text", json.RawMessage(`{"text":"<script>alert('1');</script> \ufffd \\u0000"}`), got.Body)
}

// TestRecordsFilter also covers the scout's own records.
func TestRecordsFilter(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	ana, ben := storetest.Scout(t, db, ev.ID, "ana"), storetest.Scout(t, db, ev.ID, "ben")
	own := storetest.Observed(ev.ID, ana, storetest.Observation("Q2", "40101", "ana", 1))
	fixed := storetest.Revision(record.KindObservation, own.RecordID, lead, storetest.Observation("Q2", "40101", "ana", 2), own.RevisionID)
	bens := storetest.Observed(ev.ID, ben, storetest.Observation("Q10", "40102", "ben", 3))
	leads := storetest.Observed(ev.ID, lead, storetest.Observation("P1", "40101", "ana", 4))
	anasToo := storetest.Revision(record.KindObservation, leads.RecordID, ana, storetest.Observation("P1", "40101", "ana", 5))
	mark := storetest.Revision(record.KindMark, uuid.Must(uuid.NewV7()), lead, record.Mark{Team: "40101", Match: bensMatch, Kind: record.MarkRepaired})
	text := storetest.Revision(record.KindNote, uuid.Must(uuid.NewV7()), lead, map[string]any{"text": "Q2 40101"})
	storetest.Append(t, db, ev.ID, own, bens, leads, mark, text)
	storetest.Append(t, db, ev.ID, fixed, anasToo)

	tests := map[string]struct {
		filter store.Filter
		want   []uuid.UUID
	}{
		"All":   {store.Filter{}, []uuid.UUID{mark.RecordID, text.RecordID, own.RecordID, bens.RecordID, leads.RecordID}},
		"Kind":  {store.Filter{Kind: record.KindObservation}, []uuid.UUID{own.RecordID, bens.RecordID, leads.RecordID}},
		"Match": {store.Filter{Match: bensMatch}, []uuid.UUID{mark.RecordID, bens.RecordID}},
		"Team":  {store.Filter{Team: "40101"}, []uuid.UUID{mark.RecordID, own.RecordID, leads.RecordID}},
		// The record that the lead began stays the lead's.
		"Owner": {store.Filter{Owner: ana.ID}, []uuid.UUID{own.RecordID}},
		"None":  {store.Filter{Team: "40101", Owner: ben.ID}, nil},
		"Both":  {store.Filter{Kind: record.KindObservation, Team: "40101", Match: record.MatchID{Stage: "P", Number: 1}}, []uuid.UUID{leads.RecordID}},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var got []uuid.UUID
			for _, r := range must[[]store.Record](t)(db.Records(t.Context(), ev.ID, test.filter)) {
				got = append(got, r.ID)
			}
			same(t, "records", test.want, got)
		})
	}
}

var bensMatch = record.MatchID{Stage: record.Qualification, Number: 10}

// TestMergedRecord: a record of a merged kind says what its patches say together.
func TestMergedRecord(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	list := uuid.Must(uuid.NewV7())
	id := record.EntryID(list, "40101")
	base := storetest.Revision(record.KindEntry, id, lead, map[string]any{"list": list, "team": "40101", "key": "a0", "tier": 1})
	tier := storetest.Revision(record.KindEntry, id, lead, map[string]any{"tier": 2}, base.RevisionID)
	moved := storetest.Revision(record.KindEntry, id, lead, map[string]any{"key": "a1"}, base.RevisionID)
	clash := storetest.Revision(record.KindEntry, id, lead, map[string]any{"tier": 3}, base.RevisionID)
	storetest.Append(t, db, ev.ID, moved)
	storetest.Append(t, db, ev.ID, base, tier)
	got := must[store.Record](t)(db.Record(t.Context(), ev.ID, id))
	body := must[json.RawMessage](t)(json.Marshal(map[string]any{"list": list, "team": "40101", "key": "a1", "tier": 2}))
	same(t, "merged", body, got.Body)
	if got.Conflict || got.Team != "40101" || len(got.Heads) != 2 {
		t.Errorf("got %+v", got)
	}
	dataNo := must[store.Event](t)(db.Event(t.Context(), ev.ID)).DataNo
	storetest.Append(t, db, ev.ID, clash)
	if got := must[store.Record](t)(db.Record(t.Context(), ev.ID, id)); !got.Conflict {
		t.Error("two people set the tier and it is no conflict")
	}
	if n := must[store.Event](t)(db.Event(t.Context(), ev.ID)).DataNo; n != dataNo {
		t.Error("a pick list moved data_no")
	}
}

func TestDataNo(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	teams := storetest.Teams(t, db, ev.ID, 6)
	o := storetest.Observation("Q1", "40101", "ana", 1)
	first := storetest.Observed(ev.ID, lead, o)
	first.Lamport = 5
	loser := storetest.Observed(ev.ID, lead, storetest.Observation("Q1", "40101", "ana", 9))
	name, zone, ours := "Other Cup", "Europe/Oslo", record.TeamID("40102")
	steps := []struct {
		name  string
		moves bool
		do    func(ctx context.Context) error
	}{
		{"Observation", true, func(ctx context.Context) error { storetest.Append(t, db, ev.ID, first); return nil }},
		{"RevisionThatDoesNotCount", false, func(ctx context.Context) error { storetest.Append(t, db, ev.ID, loser); return nil }},
		{"Note", false, func(ctx context.Context) error {
			storetest.Append(t, db, ev.ID, storetest.Revision(record.KindNote, uuid.New(), lead, map[string]any{"text": "x"}))
			return nil
		}},
		{"Mark", true, func(ctx context.Context) error {
			storetest.Append(t, db, ev.ID, storetest.Revision(record.KindMark, uuid.New(), lead, record.Mark{Team: "40101", Match: o.Match, Kind: record.MarkChanged}))
			return nil
		}},
		{"Schedule", true, func(ctx context.Context) error { storetest.Schedule(t, db, ev.ID, teams, 2); return nil }},
		{"SameSchedule", false, func(ctx context.Context) error { storetest.Schedule(t, db, ev.ID, teams, 2); return nil }},
		{"NameOfATeam", false, func(ctx context.Context) error {
			teams := slices.Clone(teams)
			teams[0].Name = "The Others"
			_, err := db.ReplaceTeams(ctx, ev.ID, teams, store.Replace{})
			return err
		}},
		{"AnotherTeam", true, func(ctx context.Context) error { storetest.Teams(t, db, ev.ID, 7); return nil }},
		{"NameAndZone", false, func(ctx context.Context) error {
			_, err := db.UpdateEvent(ctx, ev.ID, store.EventPatch{Name: &name, Zone: &zone}, nil)
			return err
		}},
		{"OurTeam", true, func(ctx context.Context) error {
			_, err := db.UpdateEvent(ctx, ev.ID, store.EventPatch{OurTeam: &ours}, nil)
			return err
		}},
		{"Overrides", true, func(ctx context.Context) error {
			_, err := db.UpdateEvent(ctx, ev.ID, store.EventPatch{Overrides: json.RawMessage(`{"our_team":"40102"}`)}, nil)
			return err
		}},
		{"Game", true, func(ctx context.Context) error {
			_, err := db.SetGame(ctx, ev.ID, json.RawMessage(strings.Replace(storetest.Game, `"Cairn"`, `"Cairns"`, 1)), "")
			return err
		}},
		{"Member", false, func(ctx context.Context) error { storetest.Scout(t, db, ev.ID, "zoe"); return nil }},
	}
	for _, step := range steps {
		before := must[store.Event](t)(db.Event(t.Context(), ev.ID))
		if err := step.do(t.Context()); err != nil {
			t.Fatalf("%s: %v", step.name, err)
		}
		after := must[store.Event](t)(db.Event(t.Context(), ev.ID))
		if moved := after.DataNo > before.DataNo; moved != step.moves {
			t.Errorf("%s: data_no %d then %d, want it to move: %v", step.name, before.DataNo, after.DataNo, step.moves)
		}
	}
}

// TestTxRepeats: a deadlock and a serialization failure are tried again, other
// errors are not, and not for ever.
func TestTxRepeats(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	for state, want := range map[string]int{"40001": 3, "40P01": 3, "23505": 1, "22012": 1} {
		runs := 0
		err := db.Tx(t.Context(), func(tx pgxTx) error {
			if runs++; runs == 3 {
				return nil
			}
			_, err := tx.Exec(t.Context(), fmt.Sprintf(`do $$ begin raise exception 'made up' using errcode = '%s'; end $$`, state))
			return err
		})
		if runs != want || (err == nil) != (want == 3) {
			t.Errorf("%s: %d runs, want %d; %v", state, runs, want, err)
		}
	}
	runs := 0
	err := db.Tx(t.Context(), func(tx pgxTx) error {
		runs++
		_, err := tx.Exec(t.Context(), `do $$ begin raise exception 'for ever' using errcode = '40001'; end $$`)
		return err
	})
	if runs != store.Tries || err == nil {
		t.Errorf("%d runs, %v; want %d and the error", runs, err, store.Tries)
	}
	cancelled, cancel := context.WithCancel(t.Context())
	runs = 0
	err = db.Tx(cancelled, func(tx pgxTx) error {
		if runs++; runs == 2 {
			cancel()
		}
		_, err := tx.Exec(context.WithoutCancel(cancelled), `do $$ begin raise exception 'once more' using errcode = '40001'; end $$`)
		return err
	})
	cancel()
	if runs > 3 || !errors.Is(err, context.Canceled) {
		t.Errorf("%d runs after the end of the context; %v", runs, err)
	}
}

// TestAppendReadsLittle: what an append reads does not grow with the event,
// also while the database has no statistics of it, as on a match day. (Plans
// that read the whole event were seen: of joins by array, and of the checks of
// a foreign key.)
func TestAppendReadsLittle(t *testing.T) {
	t.Parallel()
	at := storetest.URL(t)
	db := storetest.Open(t, at, store.Options{MaxConns: 1}) // one connection: its plans were made when the event was small
	conn := storetest.Conn(t, at)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	if _, err := conn.Exec(ctx, `alter table revision set (autovacuum_enabled = off); alter table record set (autovacuum_enabled = off)`); err != nil {
		t.Fatal(err)
	}
	const size = 20
	n := 0
	batch := func() []store.Incoming {
		items := make([]store.Incoming, size)
		for i := range items {
			n++
			o := storetest.Observation("Q1", "40101", "s03", 3)
			o.Match.Number = n
			items[i] = storetest.Observed(ev.ID, lead, o)
		}
		return items
	}
	read := func() int {
		t.Helper()
		if _, err := db.Pool().Exec(ctx, `select pg_stat_force_next_flush()`); err != nil {
			t.Fatal(err)
		}
		var rows int
		err := conn.QueryRow(ctx, `
			select sum(seq_tup_read + idx_tup_fetch) + (select sum(idx_tup_read) from pg_stat_user_indexes)
			from pg_stat_user_tables`).Scan(&rows)
		if err != nil {
			t.Fatal(err)
		}
		return rows
	}
	for range 60 {
		storetest.Append(t, db, ev.ID, batch()...)
	}
	before := read()
	storetest.Append(t, db, ev.ID, batch()...)
	if _, _, _, err := db.Since(ctx, ev.ID, int64(n-size), size, store.Viewer{Role: record.RoleLead}); err != nil {
		t.Fatal(err)
	}
	if rows := read() - before; rows > 40*size {
		t.Errorf("an append of %d and a page of the feed read %d rows of an event that has %d", size, rows, n)
	}
}

package store_test

import (
	"encoding/json"
	"slices"
	"testing"

	"github.com/google/uuid"

	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

func author(m store.Member) store.By {
	return store.By{Author: m.Nickname, MemberID: m.ID, Role: m.Role, DeviceID: "desk", Via: "import"}
}

// observations turns rows into revisions and stores them.
func observations(t *testing.T, db *store.DB, event uuid.UUID, by store.By, rows ...record.Observation) ([]store.Incoming, store.Replaced) {
	t.Helper()
	revs, done, err := db.ObservationRevisions(t.Context(), event, testGame(t), rows, by)
	if err != nil {
		t.Fatal(err)
	}
	storetest.Append(t, db, event, revs...)
	return revs, done
}

func testGame(t *testing.T) *game.Game {
	t.Helper()
	g, err := game.Load("game.json", []byte(storetest.Game))
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func TestObservationRevisions(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	by := author(lead)
	a, b := storetest.Observation("Q1", "40101", "s03", 4), storetest.Observation("Q1", "40102", "s03", 2)
	b.Play = 0 // is read as 1

	first, done := observations(t, db, ev.ID, by, a, b)
	if done.Added != 2 || done.Changed != 0 || len(first) != 2 {
		t.Fatalf("got %+v", done)
	}
	r := first[0]
	want := store.Incoming{
		Revision: record.Revision{
			RevisionID: record.ImportID(r.RecordID, r.Body), RecordID: record.ObservationID(ev.ID, a.Match, 1, a.Team, a.Scout),
			Parents: []uuid.UUID{}, Kind: record.KindObservation, Lamport: 1, Author: "lead", Role: record.RoleLead, DeviceID: "desk",
			MadeAt: r.MadeAt, Body: must[json.RawMessage](t)(json.Marshal(a)),
		},
		MemberID: lead.ID, Via: "import",
	}
	same(t, "revision", want, r)

	t.Run("UnchangedRows", func(t *testing.T) {
		revs, done := observations(t, db, ev.ID, by, b, a)
		if len(revs) != 0 || done.Added+done.Changed != 0 {
			t.Errorf("%d revisions, %+v", len(revs), done)
		}
	})
	t.Run("ChangedAndBack", func(t *testing.T) {
		c := storetest.Observation("Q1", "40101", "s03", 5)
		revs, done := observations(t, db, ev.ID, by, c, b)
		if len(revs) != 1 || done.Changed != 1 || !slices.Equal(revs[0].Parents, []uuid.UUID{first[0].RevisionID}) || revs[0].Lamport != 2 {
			t.Errorf("got %+v, %+v", revs, done)
		}
		back, _ := observations(t, db, ev.ID, by, a, b)
		if len(back) != 1 || back[0].RevisionID == first[0].RevisionID || back[0].Lamport != 3 {
			t.Errorf("got %+v", back)
		}
		got := must[store.Record](t)(db.Record(ctx, ev.ID, a40101(ev.ID)))
		same(t, "what counts", back[0].Body, got.Body)
		if got.Conflict {
			t.Error("an import made a conflict")
		}
	})
	t.Run("SettlesAConflict", func(t *testing.T) {
		ana := storetest.Scout(t, db, ev.ID, "s03")
		id := a40101(ev.ID)
		storetest.Append(t, db, ev.ID, storetest.Revision(record.KindObservation, id, ana, storetest.Observation("Q1", "40101", "s03", 8)))
		if got := must[store.Record](t)(db.Record(ctx, ev.ID, id)); !got.Conflict {
			t.Fatal("no conflict to settle")
		}
		observations(t, db, ev.ID, by, storetest.Observation("Q1", "40101", "s03", 9))
		got := must[store.Record](t)(db.Record(ctx, ev.ID, id))
		if got.Conflict || len(got.Heads) != 1 {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("Twice", func(t *testing.T) {
		_, _, err := db.ObservationRevisions(ctx, ev.ID, testGame(t), []record.Observation{b, b}, by)
		wantError(t, err, store.ErrInvalid)
	})
	t.Run("NoSuchEvent", func(t *testing.T) {
		_, _, err := db.ObservationRevisions(ctx, uuid.New(), testGame(t), []record.Observation{b}, by)
		wantError(t, err, store.ErrNotFound)
	})
}

func a40101(event uuid.UUID) uuid.UUID {
	return record.ObservationID(event, record.MatchID{Stage: "Q", Number: 1}, 1, "40101", "s03")
}

// TestRowsAndTimelines: a file says nothing of a timeline or that a record was
// discarded, so a row that says the same changes neither.
func TestRowsAndTimelines(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	ana := storetest.Scout(t, db, ev.ID, "s03")
	row := storetest.Observation("Q1", "40101", "s03", 2)
	tapped := row
	tapped.Taps = []record.Tap{{MS: 900, Action: "stone", Step: 1}, {MS: 1200, Action: "stone", Step: 1}}
	tapped.Discarded = true
	storetest.Append(t, db, ev.ID, storetest.Observed(ev.ID, ana, tapped))
	if revs, _ := observations(t, db, ev.ID, author(lead), row); len(revs) != 0 {
		t.Fatalf("the same row makes %+v", revs)
	}
	changed := storetest.Observation("Q1", "40101", "s03", 3)
	revs, _ := observations(t, db, ev.ID, author(lead), changed)
	var got record.Observation
	if err := json.Unmarshal(revs[0].Body, &got); err != nil {
		t.Fatal(err)
	}
	want := changed
	want.Taps, want.Edited = tapped.Taps, true
	same(t, "body", want, got)
}

// TestRowsAndParts: of parts that were handed on a file has one row, and of a
// part alone no counts; such rows change nothing, and a new count is that of
// the whole match.
func TestRowsAndParts(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	ana, bo := storetest.Scout(t, db, ev.ID, "ana"), storetest.Scout(t, db, ev.ID, "bo")
	ms := func(v int) *int { return &v }
	first, second := storetest.Observation("Q1", "40101", "ana", 2), storetest.Observation("Q1", "40101", "bo", 3)
	first.To, second.From = ms(60_000), ms(61_000)
	alone := storetest.Observation("Q1", "40102", "ana", 4)
	alone.To, alone.Note = ms(60_000), "fast"
	storetest.Append(t, db, ev.ID, storetest.Observed(ev.ID, ana, first), storetest.Observed(ev.ID, bo, second), storetest.Observed(ev.ID, ana, alone))

	rows := record.Rows(testGame(t), []record.Observation{first, second, alone})
	if len(rows) != 2 || *rows[0].Counts["stone"].Made != 5 || rows[1].Counts != nil {
		t.Fatalf("a file has %+v", rows)
	}
	if revs, _ := observations(t, db, ev.ID, author(lead), rows...); len(revs) != 0 {
		t.Fatalf("the same rows make %+v", revs)
	}
	more := 6.0
	rows[0].Counts = map[string]record.Tally{"stone": {Made: &more}}
	rows[1].Note = "fast, then slow"
	revs, _ := observations(t, db, ev.ID, author(lead), rows...)
	if len(revs) != 2 {
		t.Fatalf("two changed rows make %+v", revs)
	}
	var got [2]record.Observation
	for i := range got {
		if err := json.Unmarshal(revs[i].Body, &got[i]); err != nil {
			t.Fatal(err)
		}
	}
	if got[0].Part() || *got[0].Counts["stone"].Made != 6 {
		t.Errorf("the whole match is %+v", got[0])
	}
	want := alone
	want.Note = "fast, then slow"
	same(t, "the part alone", want, got[1])
}

// TestRowsFollowMovedRecords: two robots were mixed up and put right by two
// revisions; then each row means the record that is about its robot now.
func TestRowsFollowMovedRecords(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	a, b := storetest.Observation("Q1", "40101", "s03", 1), storetest.Observation("Q1", "40102", "s03", 2)
	first, _ := observations(t, db, ev.ID, author(lead), a, b)
	a.Team, b.Team = b.Team, a.Team
	storetest.Append(t, db, ev.ID,
		storetest.Revision(record.KindObservation, first[0].RecordID, lead, a, first[0].RevisionID),
		storetest.Revision(record.KindObservation, first[1].RecordID, lead, b, first[1].RevisionID))
	if revs, _ := observations(t, db, ev.ID, author(lead), a, b); len(revs) != 0 {
		t.Fatalf("what is there makes %+v", revs)
	}
	better := storetest.Observation("Q1", "40102", "s03", 7)
	if revs, _ := observations(t, db, ev.ID, author(lead), better); len(revs) != 1 || revs[0].RecordID != first[0].RecordID {
		t.Errorf("got %+v, want a revision of %s", revs, first[0].RecordID)
	}

	// A record that moved away alone leaves its id behind: the row that has that
	// identity gets a record of its own, and the moved one stays.
	c := storetest.Observation("Q2", "40101", "s03", 1)
	lone, _ := observations(t, db, ev.ID, author(lead), c)
	moved := storetest.Observation("Q2", "40105", "s03", 1)
	storetest.Append(t, db, ev.ID, storetest.Revision(record.KindObservation, lone[0].RecordID, lead, moved, lone[0].RevisionID))
	for range 2 {
		observations(t, db, ev.ID, author(lead), c, moved)
	}
	got := must[[]store.Record](t)(db.Records(ctx, ev.ID, store.Filter{Match: c.Match}))
	if len(got) != 2 || got[0].Team != "40101" || got[1].Team != "40105" || got[1].ID != lone[0].RecordID {
		t.Errorf("got %+v", got)
	}
}

func TestMarkRevisions(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	q3 := record.MatchID{Stage: "Q", Number: 3}
	byHand := record.Mark{Team: "40101", Match: q3, Kind: record.MarkRepaired, Note: "new arm"}
	storetest.Append(t, db, ev.ID, storetest.Revision(record.KindMark, uuid.Must(uuid.NewV7()), lead, byHand))
	rows := []record.Mark{byHand, {Team: "40101", Match: q3, Kind: record.MarkChanged}}
	revs, done, err := db.MarkRevisions(ctx, ev.ID, rows, author(lead))
	if err != nil || len(revs) != 1 || done.Added != 1 || done.Changed != 0 {
		t.Fatalf("got %+v, %+v, %v", revs, done, err)
	}
	storetest.Append(t, db, ev.ID, revs...)
	if revs, _, err = db.MarkRevisions(ctx, ev.ID, rows, author(lead)); err != nil || len(revs) != 0 {
		t.Errorf("again: %+v, %v", revs, err)
	}
	rows[1].Note = "lighter"
	if revs, done, err = db.MarkRevisions(ctx, ev.ID, rows, author(lead)); err != nil || len(revs) != 1 || done.Changed != 1 {
		t.Errorf("changed: %+v, %v", revs, err)
	}
	_, _, err = db.MarkRevisions(ctx, ev.ID, append(rows, rows[0]), author(lead))
	wantError(t, err, store.ErrInvalid)
}

func TestRevise(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	list := uuid.Must(uuid.NewV7())
	draft := func(team record.TeamID, body string) store.Draft {
		return store.Draft{RecordID: record.EntryID(list, team), Kind: record.KindEntry, Body: json.RawMessage(body)}
	}
	revise := func(drafts ...store.Draft) []string {
		t.Helper()
		revs, _, err := db.Revise(ctx, ev.ID, drafts, author(lead))
		if err != nil {
			t.Fatal(err)
		}
		storetest.Append(t, db, ev.ID, revs...)
		var bodies []string
		for _, r := range revs {
			bodies = append(bodies, string(r.Body))
		}
		return bodies
	}
	same(t, "new", []string{`{"key":"a0","team":"40101","tier":1}`}, revise(draft("40101", `{"team":"40101","key":"a0","tier":1}`)))
	// Only the members that differ: somebody else may be moving the entry.
	same(t, "patch", []string{`{"tier":2}`, `{"key":"a1","team":"40102"}`}, revise(
		draft("40101", `{"team":"40101","key":"a0","tier":2}`), draft("40102", `{"team":"40102","key":"a1"}`)))
	same(t, "nothing new", []string(nil), revise(draft("40101", `{"tier":2.0,"note":null}`)))
	same(t, "taken away", []string{`{"tier":null}`}, revise(draft("40101", `{"tier":null}`)))
	same(t, "back again", []string{`{"tier":2}`}, revise(draft("40101", `{"tier":2}`)))
	got := must[store.Record](t)(db.Record(ctx, ev.ID, record.EntryID(list, "40101")))
	same(t, "entry", json.RawMessage(`{"key":"a0","team":"40101","tier":2}`), got.Body)

	whole := store.Draft{RecordID: uuid.New(), Kind: record.KindObservation, Body: must[json.RawMessage](t)(json.Marshal(storetest.Observation("Q1", "40101", "s03", 1)))}
	if bodies := revise(whole); len(bodies) != 1 {
		t.Errorf("got %v", bodies)
	}
	if bodies := revise(whole); len(bodies) != 0 {
		t.Errorf("the same again: %v", bodies)
	}
	_, _, err := db.Revise(ctx, ev.ID, []store.Draft{draft("1", `"x"`)}, author(lead))
	wantError(t, err, store.ErrInvalid)
}

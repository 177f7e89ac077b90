package store_test

import (
	"encoding/json"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

// TestFeedHasNoGaps: while many write to one event, a reader that polls sees
// each number exactly once, strictly in order, and never one before all that
// are below it.
func TestFeedHasNoGaps(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	start := ev.ChangeNo
	const writers, batches = 6, 30
	var total atomic.Int64
	var finished atomic.Bool
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			for b := range batches {
				n := 1 + (w+b)%4
				items := make([]store.Incoming, n)
				for i := range items {
					items[i] = storetest.Revision(record.KindNote, uuid.Must(uuid.NewV7()), lead, map[string]any{"text": "x"})
				}
				_, changeNo, err := db.Append(t.Context(), ev.ID, items)
				if err != nil {
					t.Error(err)
					return
				}
				total.Add(int64(n))
				// One range for a batch: it ends with the answer's number.
				got, err := db.Revisions(t.Context(), ev.ID, items[0].RecordID)
				if err != nil || got[0].ChangeNo != changeNo-int64(n)+1 {
					t.Errorf("a batch of %d that ended at %d began at %+v, %v", n, changeNo, got, err)
				}
			}
		})
	}
	go func() {
		wg.Wait()
		finished.Store(true)
	}()
	var readers sync.WaitGroup
	for r := range 2 {
		readers.Go(func() {
			after, want := int64(0), int64(1)
			for {
				// Read this first: what is stored by then is in the next page or an earlier one.
				last := finished.Load()
				items, next, reset, err := db.Since(t.Context(), ev.ID, after, 7+100*r, store.Viewer{Role: record.RoleCoach})
				if err != nil || reset {
					t.Errorf("after %d: reset %v, %v", after, reset, err)
					return
				}
				for _, it := range items {
					if it.ChangeNo != want {
						t.Errorf("saw %d, want %d", it.ChangeNo, want)
						return
					}
					want++
				}
				if next < after || len(items) > 0 && next != items[len(items)-1].ChangeNo {
					t.Errorf("next is %d after %d, with %d items", next, after, len(items))
				}
				if last && len(items) == 0 {
					break
				}
				after = next
			}
			if got := want - 1 - start; got != total.Load() {
				t.Errorf("saw %d changes, %d were made", got, total.Load())
			}
		})
	}
	readers.Wait()
}

// TestFeedAudience: a scout sees the own records and what is for all, also when
// the pages are small; nobody in particular sees no record at all.
func TestFeedAudience(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	ana, ben := storetest.Scout(t, db, ev.ID, "ana"), storetest.Scout(t, db, ev.ID, "ben")
	teams := storetest.Teams(t, db, ev.ID, 6)
	storetest.Schedule(t, db, ev.ID, teams, 1)
	own := storetest.Observed(ev.ID, ana, storetest.Observation("Q1", "40101", "ana", 1))
	fixed := storetest.Revision(record.KindObservation, own.RecordID, lead, storetest.Observation("Q1", "40101", "ana", 2), own.RevisionID)
	bens := storetest.Observed(ev.ID, ben, storetest.Observation("Q1", "40102", "ben", 3))
	intruder := storetest.Revision(record.KindObservation, bens.RecordID, ana, storetest.Observation("Q1", "40102", "ana", 9), bens.RevisionID)
	bensFixed := storetest.Revision(record.KindObservation, bens.RecordID, lead, storetest.Observation("Q1", "40102", "ben", 4), bens.RevisionID)
	note := storetest.Revision(record.KindNote, uuid.Must(uuid.NewV7()), lead, map[string]any{"text": "secret"})
	storetest.Append(t, db, ev.ID, own, bens)
	storetest.Append(t, db, ev.ID, note, fixed)
	storetest.Append(t, db, ev.ID, intruder)
	storetest.Append(t, db, ev.ID, bensFixed)

	everything := []string{"event", "members", "members", "teams", "matches", "record", "record", "record", "record", "record", "record"}
	tests := map[string]struct {
		viewer    store.Viewer
		kinds     []string
		revisions []uuid.UUID
	}{
		"Lead":  {store.Viewer{Role: record.RoleLead, MemberID: lead.ID}, everything, []uuid.UUID{own.RevisionID, bens.RevisionID, note.RevisionID, fixed.RevisionID, intruder.RevisionID, bensFixed.RevisionID}},
		"Coach": {store.Viewer{Role: record.RoleCoach}, everything, []uuid.UUID{own.RevisionID, bens.RevisionID, note.RevisionID, fixed.RevisionID, intruder.RevisionID, bensFixed.RevisionID}},
		// Writing into another's record gives no sight of it.
		"Ana":     {store.Viewer{Role: record.RoleScout, MemberID: ana.ID}, []string{"event", "teams", "matches", "record", "record", "record"}, []uuid.UUID{own.RevisionID, fixed.RevisionID, intruder.RevisionID}},
		"Ben":     {store.Viewer{Role: record.RoleScout, MemberID: ben.ID}, []string{"event", "teams", "matches", "record", "record"}, []uuid.UUID{bens.RevisionID, bensFixed.RevisionID}},
		"Another": {store.Viewer{Role: record.RoleScout, MemberID: uuid.New()}, []string{"event", "teams", "matches"}, nil},
		"Nobody":  {store.Viewer{}, []string{"event", "teams", "matches"}, nil},
		"NoRole":  {store.Viewer{Role: "root", MemberID: ana.ID}, []string{"event", "teams", "matches"}, nil},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for _, limit := range []int{1, 2, 3, 0} {
				items := feed(t, db, ev.ID, limit, test.viewer)
				same(t, "kinds", test.kinds, kindsOf(items))
				var revisions []uuid.UUID
				for _, it := range items {
					if it.Revision != nil {
						revisions = append(revisions, it.Revision.RevisionID)
						if it.RecordID != it.Revision.RecordID {
							t.Errorf("item of record %s has a revision of %s", it.RecordID, it.Revision.RecordID)
						}
					}
				}
				same(t, "revisions", test.revisions, revisions)
				if numbers := numbersOf(items); !slices.IsSorted(numbers) {
					t.Errorf("numbers %v", numbers)
				}
			}
		})
	}
	items := feed(t, db, ev.ID, 0, store.Viewer{Role: record.RoleScout, MemberID: ana.ID})
	same(t, "revision in the feed", own.Revision, *items[3].Revision)
}

func TestSinceAtTheEdges(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	scout := store.Viewer{Role: record.RoleScout, MemberID: uuid.New()}
	last := storetest.Append(t, db, ev.ID, storetest.Revision(record.KindNote, uuid.New(), lead, map[string]any{"text": "x"}))

	// What a scout may not see still moves next on: the next poll is cheap.
	items, next, reset, err := db.Since(t.Context(), ev.ID, ev.ChangeNo, 10, scout)
	if err != nil || reset || len(items) != 0 || next != last {
		t.Errorf("got %d items, next %d, reset %v, %v; want none and %d", len(items), next, reset, err, last)
	}
	items, next, reset, err = db.Since(t.Context(), ev.ID, last, 10, scout)
	if err != nil || reset || len(items) != 0 || next != last {
		t.Errorf("at the end: %d items, next %d, reset %v, %v", len(items), next, reset, err)
	}
	for _, after := range []int64{last + 1, last + 1000, -1} {
		items, next, reset, err = db.Since(t.Context(), ev.ID, after, 10, scout)
		if err != nil || !reset || len(items) != 0 || next != 0 {
			t.Errorf("after %d, which was never given: %d items, next %d, reset %v, %v", after, len(items), next, reset, err)
		}
	}
	_, _, _, err = db.Since(t.Context(), uuid.New(), 0, 10, scout)
	wantError(t, err, store.ErrNotFound)
	_, err = db.ChangeNo(t.Context(), uuid.New())
	wantError(t, err, store.ErrNotFound)
	numbers := must[map[uuid.UUID]int64](t)(db.ChangeNos(t.Context(), []uuid.UUID{ev.ID, uuid.New()}))
	same(t, "change numbers", map[uuid.UUID]int64{ev.ID: last}, numbers)
}

// TestEventsAreApart: nothing of one event shows in another.
func TestEventsAreApart(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	a, leadA := storetest.Event(t, db, nil)
	b, leadB := storetest.Event(t, db, nil)
	teams := storetest.Teams(t, db, a.ID, 6)
	storetest.Schedule(t, db, a.ID, teams, 1)
	it := storetest.Observed(a.ID, leadA, storetest.Observation("Q1", "40101", "ana", 1))
	storetest.Append(t, db, a.ID, it)

	twin := it
	twin.MemberID = leadB.ID // the same ids in another event are another record
	storetest.Append(t, db, b.ID, twin)
	other := storetest.Revision(record.KindObservation, it.RecordID, leadB, storetest.Observation("Q1", "40101", "ana", 7), it.RevisionID)
	storetest.Append(t, db, b.ID, other)
	got := must[store.Record](t)(db.Record(t.Context(), a.ID, it.RecordID))
	if got.Head != it.RevisionID {
		t.Error("a revision of another event counts")
	}
	if teams, _, err := db.Teams(t.Context(), b.ID); err != nil || len(teams) != 0 {
		t.Errorf("teams %v, %v", teams, err)
	}
	same(t, "feed", []string{"event", "record", "record"}, kindsOf(feed(t, db, b.ID, 0, store.Viewer{Role: record.RoleLead})))
	same(t, "members", []store.Member{leadB}, must[[]store.Member](t)(db.Members(t.Context(), b.ID)))
	if _, err := json.Marshal(got.Body); err != nil {
		t.Error(err)
	}
}

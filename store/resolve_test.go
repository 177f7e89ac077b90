package store_test

import (
	"encoding/json"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

// TestWhichRevisionCounts is a property test through the real database: however
// a set of revisions arrives (any order, cut into any batches, any of them
// repeated, from several connections), each record says what record.Resolve
// says of the whole set, and so does a rebuild.
func TestWhichRevisionCounts(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	rng := rand.New(rand.NewPCG(7, 7))
	for round := range 25 {
		ev, lead := storetest.Event(t, db, nil)
		members := []store.Member{lead, storetest.Scout(t, db, ev.ID, "ana"), storetest.Scout(t, db, ev.ID, "ben")}
		all := history(rng, ev.ID, members)
		rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		for sent := 0; sent < len(all); {
			next := min(len(all), sent+1+rng.IntN(6))
			batch := slices.Clone(all[sent:next])
			for range rng.IntN(3) { // a device that is not sure sends again
				batch = append(batch, all[rng.IntN(next)])
			}
			outcomes, _, err := db.Append(t.Context(), ev.ID, batch)
			if err != nil {
				t.Fatal(err)
			}
			for i, o := range outcomes {
				if want := verdict(i < next-sent); o.Verdict != want {
					t.Fatalf("round %d: item %d is %s (%s), want %s", round, i, o.Verdict, o.Reason, want)
				}
			}
			sent = next
		}
		checkResolved(t, db, ev.ID, all)
		if err := db.Rebuild(t.Context(), ev.ID); err != nil {
			t.Fatal(err)
		}
		checkResolved(t, db, ev.ID, all)
	}
}

func verdict(fresh bool) store.Verdict {
	if fresh {
		return store.Stored
	}
	return store.Known
}

// history makes revisions of a few records, whole and merged ones, in which
// people build upon some of what is there, and sometimes upon nothing.
func history(rng *rand.Rand, event uuid.UUID, members []store.Member) []store.Incoming {
	kinds := []string{record.KindObservation, record.KindEntry, record.KindNote, record.KindResult}
	var all []store.Incoming
	for _, kind := range kinds {
		id := uuid.Must(uuid.NewV7())
		var mine []store.Incoming
		for range 1 + rng.IntN(7) {
			var parents []uuid.UUID
			for _, m := range mine {
				if rng.IntN(2) == 0 {
					parents = append(parents, m.RevisionID)
				}
			}
			body := map[string]any{}
			for _, name := range []string{"key", "tier", "note", "team"} {
				if !record.Merged(kind) || rng.IntN(2) == 0 {
					body[name] = []any{"40101", "40102", 1.5, nil, true, "é"}[rng.IntN(6)]
				}
			}
			it := storetest.Revision(kind, id, members[rng.IntN(len(members))], body, parents...)
			it.Role = []record.Role{record.RoleScout, record.RoleCoach, record.RoleLead}[rng.IntN(3)]
			it.Lamport = int64(rng.IntN(3))
			mine = append(mine, it)
		}
		all = append(all, mine...)
	}
	return all
}

// checkResolved compares every record with the pure function over its set.
func checkResolved(t *testing.T, db *store.DB, event uuid.UUID, all []store.Incoming) {
	t.Helper()
	sets := map[uuid.UUID][]record.Revision{}
	for _, it := range all {
		sets[it.RecordID] = append(sets[it.RecordID], it.Revision)
	}
	got := must[[]store.Record](t)(db.Records(t.Context(), event, store.Filter{}))
	var rows int
	if err := db.Pool().QueryRow(t.Context(), `select count(*) from record where event_id = $1`, event).Scan(&rows); err != nil {
		t.Fatal(err)
	}
	if len(got) != len(sets) || rows != len(sets) { // a row whose head does not exist would not be among got
		t.Fatalf("%d records in %d rows, want %d", len(got), rows, len(sets))
	}
	for _, r := range got {
		want := record.Resolve(sets[r.ID])
		if r.Head != want.Head || r.Conflict != want.Conflict || !slices.Equal(r.Heads, want.Heads) {
			t.Errorf("%s %s: head %s of %v, conflict %v; want %s of %v, %v", r.Kind, r.ID, r.Head, r.Heads, r.Conflict, want.Head, want.Heads, want.Conflict)
		}
		same(t, "body of "+r.Kind, want.Body, r.Body)
		var names struct{ Team any }
		if err := json.Unmarshal(want.Body, &names); err != nil {
			t.Fatal(err)
		}
		if team, _ := names.Team.(string); record.ValidTeam(team) != (r.Team != "") || record.ValidTeam(team) && string(r.Team) != team {
			t.Errorf("%s %s: team %q, its body says %v", r.Kind, r.ID, r.Team, names.Team)
		}
	}
}

// TestOneRecordFromManySides: devices that write to the same records at the
// same time lose nothing, and the records say what the whole set says.
func TestOneRecordFromManySides(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	rng := rand.New(rand.NewPCG(3, 1))
	members := []store.Member{lead, storetest.Scout(t, db, ev.ID, "ana")}
	var all []store.Incoming
	for range 6 {
		all = append(all, history(rng, ev.ID, members)...)
	}
	const sides = 6
	errs := make(chan error, sides)
	for side := range sides {
		// Each side sends everything, in an order and cuts of its own.
		rng := rand.New(rand.NewPCG(11, uint64(side)))
		mine := slices.Clone(all)
		rng.Shuffle(len(mine), func(i, j int) { mine[i], mine[j] = mine[j], mine[i] })
		go func() {
			for len(mine) > 0 {
				n := 1 + rng.IntN(min(len(mine), 8))
				if _, _, err := db.Append(t.Context(), ev.ID, mine[:n]); err != nil {
					errs <- err
					return
				}
				mine = mine[n:]
			}
			errs <- nil
		}()
	}
	for range sides {
		if err := <-errs; err != nil {
			t.Fatal(err)
		}
	}
	checkResolved(t, db, ev.ID, all)
	var stored int
	for _, it := range feed(t, db, ev.ID, 100, store.Viewer{Role: record.RoleLead}) {
		if it.Kind == store.ChangeRecord {
			stored++
		}
	}
	if stored != len(all) {
		t.Errorf("%d revisions in the feed, want each of %d once", stored, len(all))
	}
}

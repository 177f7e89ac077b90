package store_test

import (
	"encoding/json"
	"testing"

	"github.com/google/uuid"

	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

func TestLoad(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, func(n *store.NewEvent) { n.Overrides = json.RawMessage(`{"values":{"full":7}}`) })
	ana := storetest.Scout(t, db, ev.ID, "ana")
	teams := storetest.Teams(t, db, ev.ID, 12)
	matches := storetest.Matches(teams, 3)
	results(matches[:1])
	revs, _, err := db.ResultRevisions(ctx, ev.ID, matches, author(lead))
	if err != nil {
		t.Fatal(err)
	}
	must[store.Replaced](t)(db.ReplaceSchedule(ctx, ev.ID, matches, revs, store.Replace{}))

	q2 := storetest.Observation("Q2", "40107", "ana", 2)
	q1b := storetest.Observation("Q1", "40102", "ana", 3)
	q1a := storetest.Observation("Q1", "40101", "ben", 4)
	discarded := storetest.Observation("Q1", "40103", "ana", 5)
	discarded.Discarded = true
	unknown := storetest.Observation("Q1", "999", "ana", 6)
	practice := storetest.Observation("W1", "40101", "ana", 1) // in no schedule, and evidence all the same
	moved := storetest.Observed(ev.ID, ana, storetest.Observation("Q3", "40101", "ana", 9))
	movedTo := storetest.Revision(record.KindObservation, moved.RecordID, ana, q2, moved.RevisionID) // q2 again, by mistake
	storetest.Append(t, db, ev.ID, moved, storetest.Observed(ev.ID, ana, q2), storetest.Observed(ev.ID, ana, q1b),
		storetest.Observed(ev.ID, ana, discarded), storetest.Observed(ev.ID, ana, unknown), storetest.Observed(ev.ID, ana, practice),
		storetest.Observed(ev.ID, lead, q1a))
	storetest.Append(t, db, ev.ID, movedTo)
	late := record.Mark{Team: "40101", Match: matches[2].ID, Kind: record.MarkChanged}
	early := record.Mark{Team: "40102", Match: matches[0].ID, Kind: record.MarkRepaired, Note: "n"}
	off, stranger := late, late
	off.Discarded, off.Team, stranger.Team = true, "40103", "999"
	for _, m := range []record.Mark{late, early, off, stranger} {
		storetest.Append(t, db, ev.ID, storetest.Revision(record.KindMark, uuid.Must(uuid.NewV7()), lead, m))
	}
	storetest.Append(t, db, ev.ID, storetest.Revision(record.KindNote, uuid.Must(uuid.NewV7()), lead, map[string]any{"text": "x"}))

	got, dataNo, err := db.Load(ctx, ev.ID)
	if err != nil {
		t.Fatal(err)
	}
	if now := must[store.Event](t)(db.Event(ctx, ev.ID)); dataNo != now.DataNo {
		t.Errorf("data_no %d, want %d", dataNo, now.DataNo)
	}
	if got.Game.Values["full"] != 7 || len(got.Game.Actions) != 2 {
		t.Errorf("game %+v", got.Game)
	}
	got.Game, got.Matches = nil, inUTC(got.Matches)
	same(t, "event", &record.Event{
		OurTeam: "40101", Teams: teams, Matches: matches,
		Observations: []record.Observation{practice, q1a, q1b, q2}, Strays: []record.Observation{unknown}, Marks: []record.Mark{early, late},
	}, got)

	_, _, err = db.Load(ctx, uuid.New())
	wantError(t, err, store.ErrNotFound)
}

// TestLoadIsOneState: while the schedule and the teams are exchanged together
// again and again, what is loaded is always one of the two, never a mixture.
func TestLoadIsOneState(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	teams := storetest.Teams(t, db, ev.ID, 6)
	matches := storetest.Matches(teams, 2)
	must[store.Replaced](t)(db.ReplaceSchedule(ctx, ev.ID, matches, nil, store.Replace{}))
	done := make(chan error, 1)
	go func() {
		for i := range 40 {
			// Match and observation in one transaction: both alliances' results.
			pair := storetest.Matches(teams, 2)
			results(pair)
			pair[0].Red.Result.Score, pair[0].Blue.Result.Score = float64(i), float64(i)
			revs, _, err := db.ResultRevisions(ctx, ev.ID, pair, author(lead))
			if err == nil {
				_, err = db.ReplaceSchedule(ctx, ev.ID, pair, revs, store.Replace{})
			}
			if err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	seen := map[int64]float64{}
	for {
		select {
		case err := <-done:
			if err != nil {
				t.Fatal(err)
			}
			return
		default:
		}
		got, dataNo, err := db.Load(ctx, ev.ID)
		if err != nil {
			t.Fatal(err)
		}
		red, blue := got.Matches[0].Red.Result, got.Matches[0].Blue.Result
		if (red == nil) != (blue == nil) || red != nil && red.Score != blue.Score {
			t.Fatalf("half a change at data_no %d: %+v and %+v", dataNo, red, blue)
		}
		if red != nil {
			if before, ok := seen[dataNo]; ok && before != red.Score {
				t.Fatalf("data_no %d stands for two states", dataNo)
			}
			seen[dataNo] = red.Score
		}
	}
}

// TestLoadABrokenGame: a game that was stored unchecked is told, not used.
func TestLoadABrokenGame(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, _ := storetest.Event(t, db, nil)
	must[store.Event](t)(db.SetGame(t.Context(), ev.ID, json.RawMessage(`{"id": "x"}`), ""))
	_, _, err := db.Load(t.Context(), ev.ID)
	var problems game.Problems
	if !errorsAs(err, &problems) {
		t.Errorf("got %v, want the problems of the game", err)
	}
}

package store_test

import (
	"testing"

	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

// A replay is known by its result: nobody edits the schedule between two matches.
func TestReplayByItsResult(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	teams := storetest.Teams(t, db, ev.ID, 6)
	planned := storetest.Schedule(t, db, ev.ID, teams, 2)
	id := planned[0].ID
	result := func(play int, side record.Colour, score float64, discarded bool) store.Incoming {
		body := record.ResultBody{Match: id, Play: play, Alliance: side, Score: score, Discarded: discarded}
		return storetest.Revision(record.KindResult, record.ResultID(ev.ID, id, play, side), lead, body)
	}
	plays := func() (out []int, scores []float64) {
		t.Helper()
		matches, _, err := db.Schedule(ctx, ev.ID)
		if err != nil {
			t.Fatal(err)
		}
		loaded, _, err := db.Load(ctx, ev.ID)
		if err != nil {
			t.Fatal(err)
		}
		same(t, "the analysis sees the same", inUTC(matches), inUTC(loaded.Matches))
		for _, m := range matches {
			if m.ID != id {
				continue
			}
			same(t, "line-up", planned[0].Red.Teams, m.Red.Teams)
			score := -1.0
			if m.Red.Result != nil {
				score = m.Red.Result.Score
			}
			out, scores = append(out, m.Play), append(scores, score)
		}
		return out, scores
	}

	storetest.Append(t, db, ev.ID, result(1, record.Red, 40, false), result(1, record.Blue, 41, false))
	storetest.Append(t, db, ev.ID, result(2, record.Blue, 51, false), result(2, record.Red, 50, false))
	number, scores := plays()
	same(t, "plays", []int{1, 2}, number)
	same(t, "scores", []float64{40, 50}, scores)

	unknown := record.ResultBody{Match: record.MatchID{Stage: record.Final, Number: 9}, Play: 1, Alliance: record.Red, Score: 1}
	storetest.Append(t, db, ev.ID,
		storetest.Revision(record.KindResult, record.ResultID(ev.ID, unknown.Match, 1, record.Red), lead, unknown),
		result(3, record.Red, 60, true))
	number, _ = plays()
	same(t, "neither a discarded result nor one without a match makes a play", []int{1, 2}, number)
	matches, _, err := db.Schedule(ctx, ev.ID)
	if err != nil || len(matches) != len(planned)+1 {
		t.Errorf("%d matches, %v", len(matches), err)
	}
}

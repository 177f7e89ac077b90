package api

import (
	"net/http"
	"slices"
	"testing"

	"github.com/google/uuid"

	"sextant/stats/check"
	"sextant/stats/record"
)

// What is missing, wrong or of no known robot is told to the lead, and told
// anew after a record, without being asked for.
func TestTruth(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(16, 12)
	coach, scout := lead.join("coach", "cora"), lead.join("scout", "sa")
	for _, other := range []*client{coach, scout} {
		if status := other.get(".truth").status; status != http.StatusForbidden {
			t.Errorf("somebody else gets %d", status)
		}
	}
	var s truthView
	lead.get(".truth").want(200, &s)
	if len(s.Suspects) != 0 || s.Suspects == nil || len(s.Matches) != 0 || s.Matches == nil || s.Scouts == nil || s.Safe.First == 0 {
		t.Fatalf("nobody scouts: %+v", s.Survey)
	}
	wrong := scout.observation("Q1", "9", "sa", 1)
	got := scout.push(scout.observation("Q1", teamNo(0), "sa", 1), wrong)
	if got.Items[0].Outcome != "stored" || got.Items[1].Outcome != "stored" {
		t.Fatalf("%+v", got)
	}
	of := func(kind check.Kind) func(check.Suspect) bool {
		return func(x check.Suspect) bool { return x.Kind == kind }
	}
	var tag string
	waitFor(t, "the new records in the queue", func() bool {
		tag = lead.get(".truth").want(200, &s).header.Get("ETag")
		return s.Current && slices.ContainsFunc(s.Suspects, of(check.UnknownTeam)) && slices.ContainsFunc(s.Suspects, of(check.Missing))
	})
	lead.get(".truth", "If-None-Match", tag).want(304)
	if len(s.Matches) != 12 || s.Matches[0].Seats[0].State != check.Arrived || len(s.Scouts) != 1 {
		t.Errorf("%+v, scouts %+v", s.Matches[0], s.Scouts)
	}

	// The lead says whose it is, and why: it is no stranger any longer.
	fix := lead.observation("Q1", teamNo(1), "sa", 2)
	fix.RecordID, fix.Parents = wrong.RecordID, []uuid.UUID{wrong.RevisionID}
	fix.Body = mustJSON(t, record.Observation{Match: record.MatchID{Stage: record.Qualification, Number: 1}, Play: 1, Team: teamNo(1), Scout: "sa", Reason: "The number was mistyped."})
	if o := lead.push(fix).Items[0]; o.Outcome != "stored" {
		t.Fatalf("%+v", o.Problem)
	}
	waitFor(t, "the mended record", func() bool {
		lead.get(".truth").want(200, &s)
		return s.Current && !slices.ContainsFunc(s.Suspects, of(check.UnknownTeam))
	})
	if seat := s.Matches[0].Seats[1]; seat.State != check.Arrived || !slices.Equal(seat.Scouts, []string{"sa"}) {
		t.Errorf("%+v", seat)
	}
}

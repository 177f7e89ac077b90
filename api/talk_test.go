package api

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// TestTalkAroundAMatch: a coach writes down what was agreed, what came of it and
// what was heard before the selection, and draws; two who draw at once lose
// nothing; a scout sees and writes none of it.
func TestTalkAroundAMatch(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(6, 2)
	coach, scout := lead.join("coach", "cora"), lead.join("scout", "sa")
	q1 := record.MatchID{Stage: record.Qualification, Number: 1}
	rev := func(kind string, id uuid.UUID, body map[string]any) sentRevision {
		return sentRevision{RevisionID: uuid.Must(uuid.NewV7()), RecordID: id, Parents: []uuid.UUID{}, Kind: kind, Lamport: 1, MadeAt: time.Now(), Body: mustJSON(t, body)}
	}
	fresh := func() uuid.UUID { return uuid.Must(uuid.NewV7()) }
	place := record.SketchID(lead.event, q1, 20, "40101")
	debrief := record.DebriefID(lead.event, q1, 1, "")
	agreed := fresh()
	for _, c := range []struct {
		who  *client
		rev  sentRevision
		want string
	}{
		{lead, rev("agreement", agreed, map[string]any{"match": "Q1", "team": "40102", "text": "Starts left"}), "stored"},
		{coach, rev("agreement", agreed, map[string]any{"kept": "partly"}), "stored"},
		{lead, rev("debrief", debrief, map[string]any{"match": "Q1", "plan": "kept"}), "stored"},
		{coach, rev("debrief", debrief, map[string]any{"match": "Q1", "broke": "A chain"}), "stored"},
		{coach, rev("debrief", record.DebriefID(lead.event, q1, 1, "40102"), map[string]any{"match": "Q1", "team": "40102", "again": "yes"}), "stored"},
		{coach, rev("sketch", fresh(), map[string]any{"match": "Q1", "second": 0, "ink": [][2]float64{{1, 2}, {3, 4}}}), "stored"},
		{lead, rev("sketch", fresh(), map[string]any{"match": "Q1", "second": 0, "ink": [][2]float64{{5, 2}, {5, 4}}}), "stored"},
		{coach, rev("sketch", place, map[string]any{"match": "Q1", "second": 20, "team": "40101", "place": [2]float64{1, 2}}), "stored"},
		{lead, rev("sketch", place, map[string]any{"match": "Q1", "second": 20, "team": "40101", "place": [2]float64{7, 2}}), "stored"},
		// Two devices would not speak of the same record.
		{coach, rev("debrief", fresh(), map[string]any{"match": "Q1", "plan": "kept"}), "refused"},
		{coach, rev("sketch", fresh(), map[string]any{"match": "Q1", "second": 20, "team": "40101", "place": [2]float64{1, 2}}), "refused"},
		{coach, rev("pin", record.PinID(lead.event, "40101", "40102"), map[string]any{"captain": "40101", "team": "40102", "kind": "agreed"}), "stored"},
		{coach, rev("rehearsal", fresh(), map[string]any{"name": "Lift first", "ranking": []string{"40101"}, "moves": []any{}}), "stored"},
		{lead, rev("pin", fresh(), map[string]any{"captain": "40101", "team": "40102", "kind": "wants"}), "refused"},
		{scout, rev("pin", record.PinID(lead.event, "40101", "40103"), map[string]any{"captain": "40101", "team": "40103", "kind": "wants"}), "refused"},
		{scout, rev("agreement", fresh(), map[string]any{"match": "Q1", "text": "x"}), "refused"},
		{scout, rev("sketch", fresh(), map[string]any{"match": "Q1", "second": 0, "ink": [][2]float64{{1, 2}}}), "refused"},
		{scout, rev("debrief", debrief, map[string]any{"match": "Q1", "plan": "not_kept"}), "refused"},
	} {
		if o := c.who.push(c.rev).Items[0]; o.Outcome != c.want {
			t.Errorf("%s %s: %s, want %s: %+v", c.rev.Kind, c.rev.Body, o.Outcome, c.want, o.Problem)
		}
	}
	said := func(kind string) map[uuid.UUID]recordView {
		var listed struct{ Records []recordView }
		coach.get(".records?kind="+kind+"&match=Q1").want(200, &listed)
		out := map[uuid.UUID]recordView{}
		for _, r := range listed.Records {
			out[r.RecordID] = r
		}
		return out
	}
	var a record.AgreementBody
	var d record.DebriefBody
	if err := json.Unmarshal(said("agreement")[agreed].Body, &a); err != nil || a.Text != "Starts left" || a.Kept != record.Partly {
		t.Errorf("what both said of the agreement: %+v, %v", a, err)
	}
	if all := said("debrief"); len(all) != 2 || all[debrief].Conflict {
		t.Errorf("debriefs: %+v", all)
	} else if err := json.Unmarshal(all[debrief].Body, &d); err != nil || d.Plan != record.Kept || d.Broke != "A chain" {
		t.Errorf("what both said of the match: %+v, %v", d, err)
	}
	marks := said("sketch")
	var s record.SketchBody
	if err := json.Unmarshal(marks[place].Body, &s); len(marks) != 3 || err != nil || s.Place[0] != 7 {
		t.Errorf("both strokes and one place, the lead's: %+v, %v", marks, err)
	}
	var page struct{ Items []feedItem }
	scout.get(".sync?after=0").want(200, &page)
	for _, item := range page.Items {
		if r := item.Revision; r != nil && slices.Contains([]string{"agreement", "debrief", "sketch", "pin", "rehearsal"}, r.Kind) {
			t.Errorf("a scout's feed has a %s", r.Kind)
		}
	}
}

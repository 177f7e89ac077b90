package api

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// items decodes the outcomes' words.
func words(p pushed) string {
	var out []string
	for _, i := range p.Items {
		out = append(out, i.Outcome)
	}
	return strings.Join(out, " ")
}

func TestPushAnswersEachItem(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	scout := lead.join("scout", "s03")
	good, bad, next := scout.observation("Q1", "40101", "s03", 1), scout.observation("Q2", "40102", "s03", 2), scout.observation("Q3", "40103", "s03", 3)
	bad.Body = mustJSON(t, map[string]any{"match": "Q2", "team": "40102", "scout": "s03", "counts": map[string]any{"deck": map[string]any{"made": -1}, "wings": map[string]any{"made": 1}}})

	got := scout.push(good, bad, next)
	if words(got) != "stored refused stored" {
		t.Fatalf("outcomes %s", words(got))
	}
	for i, r := range []sentRevision{good, bad, next} {
		if got.Items[i].RevisionID != r.RevisionID.String() {
			t.Errorf("item %d is answered as %s", i, got.Items[i].RevisionID)
		}
	}
	var pointers []string
	for _, e := range got.Items[1].Problem.Errors {
		pointers = append(pointers, e.Pointer)
	}
	if want := "/body/counts/deck/made /body/counts/wings"; strings.Join(pointers, " ") != want {
		t.Errorf("problems at %v, want %s", pointers, want)
	}

	again := scout.push(good, bad, next)
	if words(again) != "known refused known" || again.ChangeNo != got.ChangeNo {
		t.Errorf("sent again: %s, change %d after %d", words(again), again.ChangeNo, got.ChangeNo)
	}
	if p := scout.push(good, good); words(p) != "known known" {
		t.Errorf("sent twice at once: %s", words(p))
	}
}

func TestPushOutOfOrder(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	scout := lead.join("scout", "s03")
	first := scout.observation("Q1", "40101", "s03", 1)
	second := scout.observation("Q1", "40101", "s03", 2)
	second.Parents = []uuid.UUID{first.RevisionID}
	third := scout.observation("Q1", "40102", "s03", 3) // it was another robot
	third.RecordID, third.Parents = first.RecordID, []uuid.UUID{second.RevisionID}

	if p := scout.push(second); words(p) != "stored" {
		t.Fatalf("a child before its parent: %s %+v", words(p), p.Items[0].Problem)
	}
	if p := scout.push(third, first); words(p) != "stored stored" {
		t.Fatalf("%s %+v", words(p), p.Items)
	}
	var list struct{ Records []recordView }
	scout.get(".records").want(200, &list)
	if len(list.Records) != 1 || list.Records[0].Head != third.RevisionID || list.Records[0].Conflict || list.Records[0].Team != "40102" {
		t.Errorf("records %+v", list.Records)
	}
	var history struct{ Revisions []keptRevision }
	scout.get(".records/"+first.RecordID.String()+"/revisions").want(200, &history)
	if len(history.Revisions) != 3 {
		t.Errorf("%d revisions in the history", len(history.Revisions))
	}
}

// TestPushRefuses has one item per rule of the door.
func TestPushRefuses(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	scout, coach := lead.join("scout", "s03"), lead.join("coach", "cora")
	list := uuid.Must(uuid.NewV7())
	change := func(c *client, fn func(*sentRevision)) sentRevision {
		r := c.observation("Q1", "40101", "s03", 1)
		fn(&r)
		return r
	}
	raw := func(old, new string) json.RawMessage {
		text := string(mustJSON(t, scout.observation("Q1", "40101", "s03", 1)))
		if !strings.Contains(text, old) {
			t.Fatalf("%s is not in %s", old, text)
		}
		return json.RawMessage(strings.Replace(text, old, new, 1))
	}
	tests := []struct {
		name    string
		by      *client
		item    any
		pointer string
	}{
		{"InAnothersName", scout, change(scout, func(r *sentRevision) { *r = scout.observation("Q1", "40101", "s04", 1) }), "/body/scout"},
		{"ScoutWritesResult", scout, change(scout, func(r *sentRevision) { r.Kind = "result" }), ""},
		{"ScoutWritesList", scout, change(scout, func(r *sentRevision) { r.Kind = "list" }), ""},
		{"CoachWatches", coach, change(coach, func(r *sentRevision) { *r = coach.observation("Q1", "40101", "cora", 1) }), ""},
		{"CoachWritesResult", coach, change(coach, func(r *sentRevision) { r.Kind = "result" }), ""},
		{"UnknownKind", lead, change(lead, func(r *sentRevision) { r.Kind = "rumour" }), ""},
		{"RevisionOfVersion4", scout, change(scout, func(r *sentRevision) { r.RevisionID = uuid.New() }), "/revision_id"},
		{"WrongRecordID", lead, change(lead, func(r *sentRevision) { r.RecordID = uuid.New() }), "/record_id"},
		{"NoRecordID", scout, change(scout, func(r *sentRevision) { r.RecordID = uuid.Nil }), "/record_id"},
		{"LamportZero", scout, change(scout, func(r *sentRevision) { r.Lamport = 0 }), "/lamport"},
		{"LamportOutOfReach", scout, change(scout, func(r *sentRevision) { r.Lamport = maxLamport + 1 }), "/lamport"},
		{"EntryOfAnotherTeam", lead, sentRevision{
			RevisionID: uuid.Must(uuid.NewV7()), RecordID: record.EntryID(list, "40102"), Kind: "entry", Lamport: 1, MadeAt: f.now.now(),
			Body: mustJSON(t, map[string]any{"list": list, "team": "40101", "key": "a0"}),
		}, "/record_id"},
		{"NotANumber", scout, raw(`"made":3`, `"made":"NaN"`), "/body/counts/deck/made"},
		{"NullForANumber", scout, raw(`"made":3`, `"made":null`), "/body/counts/deck/made"},
		{"Fraction", scout, raw(`"made":3`, `"made":3.5`), "/body/counts/deck/made"},
		{"Huge", scout, raw(`"made":3`, `"made":1000`), "/body/counts/deck/made"},
		{"Infinite", scout, raw(`"made":3`, `"made":1e999`), ""},
		{"MemberTwice", scout, raw(`"made":3`, `"made":3,"made":4`), ""},
		{"UnknownMember", scout, raw(`"kind"`, `"wings":1,"kind"`), ""},
		{"AuthorIsNotSent", scout, raw(`"kind"`, `"author":"boss","kind"`), ""},
		{"TextForAnID", scout, raw(`"lamport":1`, `"lamport":"one"`), "/lamport"},
		{"NotAnObject", scout, "a text", ""},
		{"Nothing", scout, nil, ""},
		{"LongNote", scout, raw(`"match":"Q1"`, `"note":"`+strings.Repeat("x", 2001)+`","match":"Q1"`), "/body/note"},
		{"ControlCharacter", scout, raw(`"match":"Q1"`, `"note":"a\u0000b","match":"Q1"`), ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := tt.by.push(tt.item).Items[0]
			if got.Outcome != "refused" || got.Problem == nil || got.Problem.Detail == "" {
				t.Fatalf("outcome %+v", got)
			}
			if tt.pointer != "" && (len(got.Problem.Errors) == 0 || got.Problem.Errors[0].Pointer != tt.pointer) {
				t.Errorf("problem %+v, want its place %s", got.Problem, tt.pointer)
			}
			if r, ok := tt.item.(sentRevision); ok && got.RevisionID != r.RevisionID.String() {
				t.Errorf("the item is answered as %q", got.RevisionID)
			}
		})
	}
	var list0 struct{ Records []recordView }
	lead.get(".records").want(200, &list0)
	if len(list0.Records) != 0 {
		t.Errorf("refused items are stored: %+v", list0.Records)
	}
}

func TestPushRefusesTheRequest(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	lead.send("POST", ".sync", map[string]any{"protocol": 2, "device": "d", "items": []any{}}).problem(unknownProtocol, "protocol 2", "1 to 1")
	lead.send("POST", ".sync", map[string]any{"device": "d", "items": []any{}}).problem(unknownProtocol)
	lead.send("POST", ".sync", map[string]any{"protocol": 1, "device": strings.Repeat("d", 101), "items": []any{}}).problem(invalid, "/device")
	lead.send("POST", ".sync", map[string]any{"protocol": 1, "device": "d", "items": make([]int, 501)}).problem(tooLarge, "500")
	lead.send("POST", ".sync", map[string]any{"protocol": 1, "device": "d", "items": 5}).problem(invalid, "/items")
	lead.send("POST", ".sync", `{"protocol": 1, "device": "d", "items": [NaN]}`).problem(malformed, "1:")
	lead.send("POST", ".sync", `{"protocol": 1} {}`).problem(malformed)
	lead.send("POST", ".sync", "").problem(malformed)
}

func TestScoutsRecordsAreTheirOwn(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	a, b := lead.join("scout", "sa"), lead.join("scout", "sb")
	r := a.observation("Q1", "40101", "sa", 1)
	a.push(r)
	intruder := b.observation("Q1", "40101", "sb", 9)
	intruder.RecordID, intruder.Parents = r.RecordID, []uuid.UUID{r.RevisionID}
	if p := b.push(intruder); words(p) != "refused" {
		t.Errorf("a scout writes into another's record: %s", words(p))
	}
	squat := b.observation("Q2", "40102", "sa", 1)
	if p := b.push(squat); words(p) != "refused" {
		t.Errorf("a scout makes another's record: %s", words(p))
	}
	b.get(".records/" + r.RecordID.String() + "/revisions").problem(notFound)

	// Renamed, a scout still mends the old records under the old name.
	var s sessionView
	a.get("/api/session").want(200, &s)
	lead.send("PATCH", ".members/"+s.MemberID.String(), map[string]string{"nickname": "sc"}).want(200)
	mended := a.observation("Q1", "40101", "sa", 2)
	mended.Parents = []uuid.UUID{r.RevisionID}
	if p := a.push(mended, a.observation("Q2", "40101", "sc", 3)); words(p) != "stored stored" {
		t.Errorf("after a new nickname: %s %+v", words(p), p.Items)
	}
}

func TestListsMergeMemberByMember(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	coach := lead.join("coach", "cora")
	list := uuid.Must(uuid.NewV7())
	rev := func(id uuid.UUID, kind string, parents []uuid.UUID, body map[string]any) sentRevision {
		return sentRevision{RevisionID: uuid.Must(uuid.NewV7()), RecordID: id, Parents: parents, Kind: kind, Lamport: 1, MadeAt: f.now.now(), Body: mustJSON(t, body)}
	}
	entry := record.EntryID(list, "40102")
	first := rev(entry, "entry", nil, map[string]any{"list": list, "team": "40102", "key": "a0"})
	if p := lead.push(rev(list, "list", nil, map[string]any{"name": "First picks"}), first); words(p) != "stored stored" {
		t.Fatalf("%+v", p.Items)
	}
	// Both had seen the first only.
	p1 := lead.push(rev(entry, "entry", []uuid.UUID{first.RevisionID}, map[string]any{"tier": 1}))
	p2 := coach.push(rev(entry, "entry", []uuid.UUID{first.RevisionID}, map[string]any{"note": "quick"}))
	if words(p1)+" "+words(p2) != "stored stored" {
		t.Fatalf("%+v %+v", p1.Items, p2.Items)
	}
	var got struct{ Records []recordView }
	coach.get(".records?kind=entry").want(200, &got)
	var body record.EntryBody
	if len(got.Records) != 1 || json.Unmarshal(got.Records[0].Body, &body) != nil || got.Records[0].Conflict || len(got.Records[0].Heads) != 2 {
		t.Fatalf("records %+v", got.Records)
	}
	if body.Tier == nil || *body.Tier != 1 || body.Note != "quick" || body.Key != "a0" || body.Team != "40102" {
		t.Errorf("merged body %s", got.Records[0].Body)
	}
}

// TestKnownIsNeverRefused: what the lead took in from a tablet's file, the
// tablet may send itself later; it is still another's record for anything new.
func TestKnownIsNeverRefused(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	scout := lead.join("scout", "s03")
	made := scout.observation("Q1", "40102", "s03", 1)
	if p := lead.push(made); words(p) != "stored" {
		t.Fatalf("the lead's copy: %+v", p.Items)
	}
	if p := scout.push(made); words(p) != "known" {
		t.Errorf("the tablet's own copy: %+v", p.Items)
	}
	later := scout.observation("Q1", "40102", "s03", 2)
	later.Parents = []uuid.UUID{made.RevisionID}
	if p := scout.push(later); words(p) != "refused" {
		t.Errorf("a new version of the lead's record: %+v", p.Items)
	}
	// Whose copy it is does not change.
	var got struct{ Revisions []keptRevision }
	lead.get(".records/"+made.RecordID.String()+"/revisions").want(200, &got)
	if len(got.Revisions) != 1 || got.Revisions[0].Author != leadName {
		t.Errorf("revisions %+v", got.Revisions)
	}
}

func TestPull(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 2)
	var page struct {
		Protocol protocolRange
		Items    []feedItem
		Next     int64
		Reset    bool
	}
	lead.get(".sync").want(200, &page)
	kinds := map[string]int{}
	for i, item := range page.Items {
		kinds[item.Kind]++
		if i > 0 && item.ChangeNo <= page.Items[i-1].ChangeNo {
			t.Errorf("the feed is not in order: %d after %d", item.ChangeNo, page.Items[i-1].ChangeNo)
		}
		if (item.Kind == "record") != (item.Revision != nil) {
			t.Errorf("item %+v", item)
		}
	}
	if page.Protocol != protocol || kinds["record"] != 4 || kinds["teams"] == 0 || kinds["matches"] == 0 {
		t.Errorf("feed %v", kinds)
	}
	last := page.Next
	lead.get(fmt.Sprintf(".sync?after=%d", last)).want(200, &page)
	if len(page.Items) != 0 || page.Next != last || page.Reset {
		t.Errorf("at the end of the feed: %+v", page)
	}
	lead.get(fmt.Sprintf(".sync?after=%d", last+1000)).want(200, &page)
	if !page.Reset {
		t.Error("a device that is ahead of the server is not told to start again")
	}
}

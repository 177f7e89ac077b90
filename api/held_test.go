package api

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// takenOut lets the lead take the only member whose nickname this browser has out.
func (c *client) takenOut(lead *client) *client {
	c.f.t.Helper()
	var s sessionView
	c.get("/api/session").want(200, &s)
	lead.send("DELETE", ".members/"+s.MemberID.String(), nil).want(204)
	return c
}

func (c *client) held() []heldView {
	c.f.t.Helper()
	var list struct{ Items []heldView }
	c.get(".held").want(200, &list)
	return list.Items
}

// accept is a held item as a lead sends it.
func (h heldView) accept(t *testing.T) sentRevision {
	t.Helper()
	var r sentRevision
	if err := json.Unmarshal(h.Item, &r); err != nil {
		t.Fatal(err)
	}
	r.From = &maker{h.Author, h.Role, h.DeviceID}
	return r
}

func pushBody(device string, items ...any) map[string]any {
	return map[string]any{"protocol": protocolMax, "device": device, "items": items}
}

func TestLostTabletIsKeptApart(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	ann := lead.join("scout", "ann")
	before := ann.observation("Q1", "40101", "ann", 1)
	ann.push(before)
	ann.takenOut(lead)

	after := ann.observation("Q2", "40102", "ann", 2)
	correction := ann.observation("Q1", "40101", "ann", 3)
	correction.Parents = []uuid.UUID{before.RevisionID}
	for range 2 { // it does not know whether it arrived, and sends again
		ann.send("POST", ".sync", pushBody("tablet of ann", before, after, correction)).problem(keptApart, "stays on the device")
	}
	ann.get(".sync").problem(notSignedIn)
	ann.get(".records").problem(notSignedIn)
	held := lead.held()
	if len(held) != 2 || held[0].Author != "ann" || held[0].Role != "scout" || held[0].DeviceID != "tablet of ann" {
		t.Fatalf("kept apart: %+v", held)
	}
	var told sessionView
	lead.get("/api/session").want(200, &told)
	if len(told.Warnings) != 1 || told.Warnings[0].Code != "kept_apart" || !strings.HasPrefix(told.Warnings[0].Message, "2 records") {
		t.Errorf("the lead is told %+v", told.Warnings)
	}
	records := func() []recordView {
		var list struct{ Records []recordView }
		lead.get(".records?kind=observation").want(200, &list)
		return list.Records
	}
	if got := records(); len(got) != 1 || got[0].Head != before.RevisionID {
		t.Fatalf("it counts before the lead accepted it: %+v", got)
	}

	// Accepted, it stands under ann, and the lead beside her.
	if got := lead.push(held[0].accept(t), held[1].accept(t)); words(got) != "stored stored" {
		t.Fatalf("accepted: %s %+v", words(got), got.Items[0].Problem)
	}
	if left := lead.held(); len(left) != 0 {
		t.Errorf("still kept apart: %+v", left)
	}
	var history struct{ Revisions []keptRevision }
	lead.get(".records/"+before.RecordID.String()+"/revisions").want(200, &history)
	if len(history.Revisions) != 2 {
		t.Fatalf("history %+v", history)
	}
	own, let := history.Revisions[0], history.Revisions[1]
	if own.LetInBy != "" || let.RevisionID != correction.RevisionID || let.Author != "ann" || let.Role != record.RoleScout ||
		let.DeviceID != "tablet of ann" || let.LetInBy != leadName {
		t.Errorf("own %+v, let in %+v", own, let)
	}

	// Found again it sends what it had, which is known, and is heard at once.
	ann.send("POST", "/api/session", map[string]string{"code": lead.code("scout").Code, "nickname": "ann", "device": "device of ann"}).want(201)
	if got := ann.push(before, after, correction); words(got) != "known known known" {
		t.Errorf("found again: %s %+v", words(got), got.Items[1].Problem)
	}
}

func TestThrowAwayWhatIsKeptApart(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	for _, name := range []string{"ann", "bo"} {
		c := lead.join("scout", name)
		r := c.observation("Q1", "40101", name, 1)
		c.takenOut(lead).send("POST", ".sync", pushBody("d "+name, r)).problem(keptApart)
	}
	lead.send("DELETE", ".held?device=d+ann", nil).want(204)
	if held := lead.held(); len(held) != 1 || held[0].Author != "bo" {
		t.Errorf("left: %+v", held)
	}
	lead.send("DELETE", ".held", nil).problem(invalid, "device")
}

// TestKeptApartOnlyOfThisEvent: an ended session opens no door elsewhere, and
// one that was never there opens none at all.
func TestKeptApartOnlyOfThisEvent(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	var other eventView
	lead.send("POST", "/api/events", map[string]any{"name": "Elsewhere", "zone": "UTC", "game": json.RawMessage(gameFile(t))}).want(201, &other)
	ann := lead.join("scout", "ann").takenOut(lead)
	r := ann.observation("Q1", "40101", "ann", 1)
	ann.event = other.EventID
	ann.send("POST", ".sync", pushBody("d", r)).problem(notSignedIn)
	nobody := f.client()
	nobody.event = lead.event
	nobody.send("POST", ".sync", pushBody("d", r)).problem(notSignedIn)

	// What is too large for one record is not kept, and the device is told so.
	ann.event = lead.event
	r.Body = mustJSON(t, map[string]any{"note": string(make([]byte, maxHeldItem))})
	ann.send("POST", ".sync", pushBody("d", r)).problem(notSignedIn, "no more room")
	if held := lead.held(); len(held) != 0 {
		t.Errorf("kept apart: %+v", held)
	}
}

// TestOnlyALeadLetsIn: nobody else writes under another's name.
func TestOnlyALeadLetsIn(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	of := func(c *client, from maker) (sentRevision, *client) {
		r := c.observation("Q1", "40101", "bo", 1)
		r.From = &from
		return r, c
	}
	for name, tt := range map[string]struct {
		by      *client
		from    maker
		pointer string
	}{
		"Scout":         {lead.join("scout", "ann"), maker{"bo", "scout", "d"}, "/from"},
		"Coach":         {lead.join("coach", "cy"), maker{"bo", "scout", "d"}, "/from"},
		"NoRole":        {lead, maker{"bo", "chief", "d"}, "/from/role"},
		"NoName":        {lead, maker{"", "scout", "d"}, "/from/author"},
		"BeyondTheRole": {lead, maker{"bo", "coach", "d"}, ""},
	} {
		r, by := of(tt.by, tt.from)
		got := by.push(r)
		if words(got) != "refused" {
			t.Errorf("%s: %s", name, words(got))
			continue
		}
		if tt.pointer != "" && (len(got.Items[0].Problem.Errors) != 1 || got.Items[0].Problem.Errors[0].Pointer != tt.pointer) {
			t.Errorf("%s: %+v", name, got.Items[0].Problem)
		}
	}
	r, _ := of(lead, maker{"bo", "scout", "d"})
	if got := lead.push(r); words(got) != "stored" {
		t.Errorf("the lead: %s %+v", words(got), got.Items[0].Problem)
	}
}

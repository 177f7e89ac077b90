package store_test

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

// TestLastSeen: a session is written to at most once a minute, however often
// it is used, and devices are listed while they are signed in.
func TestLastSeen(t *testing.T) {
	t.Parallel()
	start := time.Date(2031, 3, 6, 9, 0, 0, 0, time.UTC)
	at := start
	db := storetest.Open(t, storetest.URL(t), store.Options{Now: func() time.Time { return at }})
	ctx := t.Context()
	ev, _ := storetest.Event(t, db, nil)
	ann := storetest.Scout(t, db, ev.ID, "ann")
	token := []byte("token")
	must[store.Session](t)(db.CreateSession(ctx, store.NewSession{
		EventID: ev.ID, MemberID: ann.ID, TokenHash: token, DeviceID: "d", DeviceKind: "iPad", ExpiresAt: start.Add(time.Hour),
	}))
	for _, step := range []struct{ used, seen time.Duration }{
		{0, 0}, {59 * time.Second, 0}, {time.Minute, time.Minute}, {90 * time.Second, time.Minute}, {10 * time.Minute, 10 * time.Minute},
	} {
		at = start.Add(step.used)
		must[store.Session](t)(db.Session(ctx, ev.ID, token))
		devices := must[[]store.Device](t)(db.Devices(ctx, ev.ID))
		want := []store.Device{{MemberID: ann.ID, Kind: "iPad", SignedInAt: start, LastSeenAt: start.Add(step.seen)}}
		same(t, fmt.Sprintf("used after %v", step.used), want, devices)
	}
	at = start.Add(time.Hour)
	same(t, "after its end", 0, len(must[[]store.Device](t)(db.Devices(ctx, ev.ID))))
}

func TestHold(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, _ := storetest.Event(t, db, nil)
	ann := storetest.Scout(t, db, ev.ID, "ann")
	stored := storetest.Observed(ev.ID, ann, storetest.Observation("Q1", "40101", "ann", 3))
	late := storetest.Observed(ev.ID, ann, storetest.Observation("Q2", "40102", "ann", 4))
	storetest.Append(t, db, ev.ID, stored)

	held := func(in store.Incoming) store.Held {
		return store.Held{RevisionID: in.RevisionID, DeviceID: "d", MemberID: ann.ID, Author: "ann", Role: record.RoleScout, Item: json.RawMessage(`{"n": 1.0}`)}
	}
	listed := func() []store.Held { return must[[]store.Held](t)(db.Held(ctx, ev.ID)) }
	before := must[int64](t)(db.ChangeNo(ctx, ev.ID))
	for range 2 { // sent again it is no other
		if !must[bool](t)(db.Hold(ctx, ev.ID, []store.Held{held(stored), held(late)})) {
			t.Error("not all is here")
		}
	}
	if now := must[int64](t)(db.ChangeNo(ctx, ev.ID)); now != before+1 {
		t.Errorf("the feed moved by %d, want 1", now-before)
	}
	if got := listed(); len(got) != 1 || got[0].RevisionID != late.RevisionID || string(got[0].Item) != `{"n": 1.0}` {
		t.Fatalf("kept apart: %+v", got)
	}

	// However it comes in, it waits no longer.
	late.Via = store.LetInBy("lead")
	storetest.Append(t, db, ev.ID, late)
	same(t, "after it came in", 0, len(listed()))
	history := must[[]store.Kept](t)(db.Revisions(ctx, ev.ID, late.RecordID))
	same(t, "who let it in", "lead", store.WhoLetIn(history[0].Via))
	same(t, "the first came by itself", "", store.WhoLetIn("sync"))

	other, _ := storetest.Event(t, db, nil)
	_, err := db.Hold(ctx, other.ID, []store.Held{held(storetest.Observed(ev.ID, ann, storetest.Observation("Q3", "40101", "ann", 1)))})
	wantError(t, err, store.ErrNotFound)
}

// TestHoldIsBounded: whoever has a lost tablet cannot fill the disk with it.
func TestHoldIsBounded(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, _ := storetest.Event(t, db, nil)
	ann := storetest.Scout(t, db, ev.ID, "ann")
	many := make([]store.Held, 2001)
	for i := range many {
		many[i] = store.Held{RevisionID: uuid.New(), DeviceID: fmt.Sprint("d", i%2), MemberID: ann.ID, Author: "ann", Role: record.RoleScout, Item: json.RawMessage(`{}`)}
	}
	if must[bool](t)(db.Hold(ctx, ev.ID, many)) {
		t.Error("there is room for 2001")
	}
	more := many[0]
	more.RevisionID = uuid.New()
	if must[bool](t)(db.Hold(ctx, ev.ID, []store.Held{more})) {
		t.Error("there is room for one more later")
	}
	same(t, "kept apart", 2000, len(must[[]store.Held](t)(db.Held(ctx, ev.ID))))
	if gone := must[int](t)(db.ThrowAway(ctx, ev.ID, "d0")); gone < 999 || gone > 1001 {
		t.Errorf("%d thrown away", gone)
	}
	for _, left := range must[[]store.Held](t)(db.Held(ctx, ev.ID)) {
		if left.DeviceID != "d1" {
			t.Fatalf("something of %s is left, want only of d1", left.DeviceID)
		}
	}
	if !must[bool](t)(db.Hold(ctx, ev.ID, many[:3])) {
		t.Error("there is no room again")
	}
}

func TestEndedSession(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, _ := storetest.Event(t, db, nil)
	end := time.Now().Add(time.Hour)
	for name, tt := range map[string]struct {
		end  func(m store.Member, token []byte) error
		want error
	}{
		"Valid":     {func(store.Member, []byte) error { return nil }, store.ErrNotFound},
		"SignedOut": {func(_ store.Member, token []byte) error { return db.RevokeSession(ctx, ev.ID, token) }, nil},
		"TakenOut":  {func(m store.Member, _ []byte) error { return db.RemoveMember(ctx, ev.ID, m.ID) }, nil},
	} {
		m, token := storetest.Scout(t, db, ev.ID, name), []byte(name)
		must[store.Session](t)(db.CreateSession(ctx, store.NewSession{EventID: ev.ID, MemberID: m.ID, TokenHash: token, DeviceID: "d " + name, ExpiresAt: end}))
		if err := tt.end(m, token); err != nil {
			t.Fatal(err)
		}
		s, err := db.EndedSession(ctx, ev.ID, token)
		wantError(t, err, tt.want)
		if tt.want == nil && (s.MemberID != m.ID || s.Nickname != name || s.Role != record.RoleScout || s.DeviceID != "d "+name) {
			t.Errorf("%s: %+v", name, s)
		}
	}
	_, err := db.EndedSession(ctx, ev.ID, []byte("never there"))
	wantError(t, err, store.ErrNotFound)
}

func TestWhoMade(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, _ := storetest.Event(t, db, nil)
	must[store.Code](t)(db.CreateCode(ctx, ev.ID, store.NewCode{Hash: []byte("c"), Role: record.RoleScout, ExpiresAt: time.Now().Add(time.Hour)}))
	join := func(token string) store.Member {
		_, m, err := db.RedeemCode(ctx, store.Redemption{CodeHash: []byte("c"), Nickname: "ann", DeviceID: "d1", TokenHash: []byte(token), ExpiresAt: time.Now().Add(time.Hour)})
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	first := join("1")
	same(t, "takes part", first.ID, must[uuid.UUID](t)(db.WhoMade(ctx, ev.ID, "ANN", "any device")))
	if err := db.RemoveMember(ctx, ev.ID, first.ID); err != nil {
		t.Fatal(err)
	}
	same(t, "taken out, same device", first.ID, must[uuid.UUID](t)(db.WhoMade(ctx, ev.ID, "ann", "d1")))
	same(t, "taken out, another device", uuid.Nil, must[uuid.UUID](t)(db.WhoMade(ctx, ev.ID, "ann", "d2")))
	again := join("2")
	same(t, "joined again", again.ID, must[uuid.UUID](t)(db.WhoMade(ctx, ev.ID, "ann", "d1")))
}

package store_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

func TestSetting(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	_, err := db.Setting(ctx, "a")
	wantError(t, err, store.ErrNotFound)
	for _, v := range []string{"1", "", "'; drop table setting; --"} {
		if err := db.SetSetting(ctx, "a", v); err != nil {
			t.Fatal(err)
		}
		if got := must[string](t)(db.Setting(ctx, "a")); got != v {
			t.Errorf("got %q, want %q", got, v)
		}
	}
	for range 2 {
		if err := db.DeleteSetting(ctx, "a"); err != nil {
			t.Error(err)
		}
	}
	_, err = db.Setting(ctx, "a")
	wantError(t, err, store.ErrNotFound)
	wantError(t, db.SetSetting(ctx, "a", "\x00"), store.ErrInvalid)
}

// TestFirstAccount: the set-up secret works once, for one of many who try at
// the same time.
func TestFirstAccount(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	hash := []byte{1, 2, 3}
	_, err := db.CreateFirstAccount(ctx, hash, "Lee", "x")
	wantError(t, err, store.ErrGone) // no secret was made
	if err := db.SetSetting(ctx, store.SettingSetup, hex.EncodeToString(hash)); err != nil {
		t.Fatal(err)
	}
	_, err = db.CreateFirstAccount(ctx, []byte{9}, "Lee", "x")
	wantError(t, err, store.ErrGone)
	if must[bool](t)(db.HasAccount(ctx)) {
		t.Error("an account exists")
	}
	_, err = db.CreateFirstAccount(ctx, hash, "", "x")
	wantError(t, err, store.ErrInvalid) // and the secret was not used up by it
	var wg sync.WaitGroup
	results := make(chan error, 8)
	for range cap(results) {
		wg.Go(func() {
			_, err := db.CreateFirstAccount(ctx, hash, "Lee", "argon")
			results <- err
		})
	}
	wg.Wait()
	close(results)
	made := 0
	for err := range results {
		if err == nil {
			made++
		} else {
			wantError(t, err, store.ErrGone)
		}
	}
	if made != 1 || !must[bool](t)(db.HasAccount(ctx)) {
		t.Errorf("%d accounts were made", made)
	}
	// A second secret makes no second account.
	if err := db.SetSetting(ctx, store.SettingSetup, hex.EncodeToString(hash)); err != nil {
		t.Fatal(err)
	}
	_, err = db.CreateFirstAccount(ctx, hash, "Mo", "x")
	wantError(t, err, store.ErrGone)

	a := must[store.Account](t)(db.AccountByName(ctx, "lEE"))
	same(t, "account", store.Account{ID: a.ID, Name: "Lee", PasswordHash: "argon"}, a)
	same(t, "by id", a, must[store.Account](t)(db.AccountByID(ctx, a.ID)))
	_, err = db.AccountByName(ctx, "Le%")
	wantError(t, err, store.ErrNotFound)
	_, err = db.AccountByID(ctx, uuid.New())
	wantError(t, err, store.ErrNotFound)
}

// account makes the first account of a database.
func account(t *testing.T, db *store.DB, name string) store.Account {
	t.Helper()
	if err := db.SetSetting(t.Context(), store.SettingSetup, "aa"); err != nil {
		t.Fatal(err)
	}
	return must[store.Account](t)(db.CreateFirstAccount(t.Context(), []byte{0xaa}, name, "hash"))
}

func TestSetPassword(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	a := account(t, db, "Lee")
	token := []byte("token")
	must[store.Session](t)(db.CreateSession(ctx, store.NewSession{AccountID: a.ID, TokenHash: token, ExpiresAt: time.Now().Add(time.Hour)}))
	if err := db.SetPassword(ctx, "lee", "new"); err != nil {
		t.Fatal(err)
	}
	if got := must[store.Account](t)(db.AccountByName(ctx, "Lee")); got.PasswordHash != "new" {
		t.Errorf("hash %q", got.PasswordHash)
	}
	_, err := db.Session(ctx, uuid.Nil, token)
	wantError(t, err, store.ErrNotFound)
	wantError(t, db.SetPassword(ctx, "Mo", "x"), store.ErrNotFound)
}

func TestEvent(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	a := account(t, db, "Lee")
	first, lead := storetest.Event(t, db, func(n *store.NewEvent) {
		n.Name, n.AccountID, n.Nickname = "Coast Cup", &a.ID, "Lee"
		n.Overrides = json.RawMessage(`{"worth":{"1":1}}`)
	})
	second, _ := storetest.Event(t, db, func(n *store.NewEvent) { n.Name, n.AccountID = "River Cup", &a.ID })
	storetest.Event(t, db, nil) // somebody else's

	sum := sha256.Sum256([]byte(storetest.Game))
	same(t, "event", store.Event{
		ID: first.ID, Name: "Coast Cup", Zone: "America/Chicago", OurTeam: "40101", GameHash: hex.EncodeToString(sum[:]),
		Overrides: json.RawMessage(`{"worth":{"1":1}}`), ChangeNo: 1, DataNo: 1, Version: 1, MadeAt: first.MadeAt,
	}, must[store.Event](t)(db.Event(ctx, first.ID)))
	if first.ID.Version() != 7 || first.MadeAt.Location() != time.UTC {
		t.Errorf("id %s, made at %s", first.ID, first.MadeAt)
	}
	same(t, "events", []store.EventOfMember{
		{Event: second, MemberID: must[store.Member](t)(db.MemberOfAccount(ctx, second.ID, a.ID)).ID, Role: record.RoleLead, Nickname: "lead"},
		{Event: first, MemberID: lead.ID, Role: record.RoleLead, Nickname: "Lee"},
	}, must[[]store.EventOfMember](t)(db.Events(ctx, a.ID)))
	body, hash, err := db.Game(ctx, first.ID)
	if err != nil || string(body) != storetest.Game || hash != first.GameHash {
		t.Errorf("the game is not as it was given: %v", err)
	}
	_, err = db.Event(ctx, uuid.New())
	wantError(t, err, store.ErrNotFound)
	_, _, err = db.Game(ctx, uuid.New())
	wantError(t, err, store.ErrNotFound)

	nobody := uuid.New()
	for name, test := range map[string]struct {
		change func(*store.NewEvent)
		want   error
	}{
		"NoName":    {func(n *store.NewEvent) { n.Name = "" }, store.ErrInvalid},
		"LongName":  {func(n *store.NewEvent) { n.Name = strings.Repeat("é", 201) }, store.ErrInvalid},
		"NUL":       {func(n *store.NewEvent) { n.Name = "a\x00" }, store.ErrInvalid},
		"Team":      {func(n *store.NewEvent) { n.OurTeam = "0" }, store.ErrInvalid},
		"Game":      {func(n *store.NewEvent) { n.GameBody = json.RawMessage(`{`) }, store.ErrInvalid},
		"Overrides": {func(n *store.NewEvent) { n.Overrides = json.RawMessage(`[]`) }, store.ErrInvalid},
		"Account":   {func(n *store.NewEvent) { n.AccountID = &nobody }, store.ErrNotFound},
		"Nickname":  {func(n *store.NewEvent) { n.Nickname = "" }, store.ErrInvalid},
	} {
		t.Run(name, func(t *testing.T) {
			n := store.NewEvent{Name: "x", Zone: "UTC", GameBody: json.RawMessage(storetest.Game), Nickname: "lead"}
			test.change(&n)
			_, _, err := db.CreateEvent(ctx, n)
			wantError(t, err, test.want)
		})
	}
	if all := must[[]store.EventOfMember](t)(db.Events(ctx, a.ID)); len(all) != 2 {
		t.Errorf("%d events: a failure left something", len(all))
	}
}

func TestUpdateEvent(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, _ := storetest.Event(t, db, nil)
	name, evil, zone, team, yes, no := "New", "x'); delete from event; --", "Europe/Oslo", record.TeamID("7B"), true, false

	got := must[store.Event](t)(db.UpdateEvent(ctx, ev.ID, store.EventPatch{Name: &name, Zone: &zone, OurTeam: &team, Overrides: json.RawMessage(`{"worth":{"1":2}}`), Ended: &yes}, &ev.Version))
	want := ev
	want.Name, want.Zone, want.OurTeam, want.Overrides = name, zone, team, json.RawMessage(`{"worth":{"1":2}}`)
	want.ChangeNo, want.DataNo, want.Version, want.EndedAt = ev.ChangeNo+1, ev.DataNo+1, ev.ChangeNo+1, got.EndedAt
	same(t, "event", want, got)
	if got.EndedAt == nil {
		t.Error("did not end")
	}
	_, err := db.UpdateEvent(ctx, ev.ID, store.EventPatch{Name: &evil}, &ev.Version)
	wantError(t, err, store.ErrStale)
	unchanged := must[store.Event](t)(db.UpdateEvent(ctx, ev.ID, store.EventPatch{Name: &name, Overrides: json.RawMessage(` { "worth" : {"1":2.0}}`), Ended: &yes}, &got.Version))
	same(t, "a patch that changes nothing", got, unchanged)
	storetest.Scout(t, db, ev.ID, "ana") // moves change_no and not the version
	got = must[store.Event](t)(db.UpdateEvent(ctx, ev.ID, store.EventPatch{Name: &evil, Ended: &no}, &got.Version))
	if got.Name != evil || got.EndedAt != nil {
		t.Errorf("got %+v", got)
	}
	_, err = db.UpdateEvent(ctx, uuid.New(), store.EventPatch{Name: &name}, nil)
	wantError(t, err, store.ErrNotFound)

	old := got.GameHash
	next := json.RawMessage(strings.Replace(storetest.Game, `"version": 1`, `"version": 2`, 1))
	got = must[store.Event](t)(db.SetGame(ctx, ev.ID, next, old))
	if got.GameHash == old || got.Version != got.ChangeNo {
		t.Errorf("got %+v", got)
	}
	_, err = db.SetGame(ctx, ev.ID, next, old)
	wantError(t, err, store.ErrStale)
	same(t, "the same game", got, must[store.Event](t)(db.SetGame(ctx, ev.ID, next, "")))
	_, err = db.SetGame(ctx, uuid.New(), next, "")
	wantError(t, err, store.ErrNotFound)
	_, err = db.SetGame(ctx, ev.ID, json.RawMessage(`nonsense`), "")
	wantError(t, err, store.ErrInvalid)
}

// TestUpdateEventAtOnce: of those who have read the same version, one succeeds.
func TestUpdateEventAtOnce(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, _ := storetest.Event(t, db, nil)
	var wg sync.WaitGroup
	results := make(chan error, 8)
	for i := range cap(results) {
		wg.Go(func() {
			name := "Cup " + string(rune('A'+i))
			_, err := db.UpdateEvent(t.Context(), ev.ID, store.EventPatch{Name: &name}, &ev.Version)
			results <- err
		})
	}
	wg.Wait()
	close(results)
	done := 0
	for err := range results {
		if err == nil {
			done++
		} else {
			wantError(t, err, store.ErrStale)
		}
	}
	if done != 1 {
		t.Errorf("%d succeeded", done)
	}
}

func TestAnalysis(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, _ := storetest.Event(t, db, nil)
	_, err := db.Analysis(ctx, ev.ID, 1, "e1", "o1")
	wantError(t, err, store.ErrNotFound)
	_, _, err = db.LatestAnalysis(ctx, ev.ID, "e1", "o1")
	wantError(t, err, store.ErrNotFound)

	save := func(dataNo int64, engine, options, body string) {
		t.Helper()
		if err := db.SaveAnalysis(ctx, ev.ID, dataNo, engine, options, json.RawMessage(body)); err != nil {
			t.Fatal(err)
		}
	}
	// Spaces, order and doubled members come back as they were: the ETag is over them.
	const odd = `{ "b":1.10, "a":2,  "b":1 }`
	save(1, "e1", "o1", odd)
	save(1, "e1", "o1", `{}`)
	if got := must[[]byte](t)(db.Analysis(ctx, ev.ID, 1, "e1", "o1")); string(got) != odd {
		t.Errorf("got %s", got)
	}
	save(1, "e1", "o2", `2`)
	save(1, "e2", "o1", `3`)
	save(5, "e1", "o1", `4`)
	save(3, "e1", "o1", `5`) // a slower process
	dataNo, body, err := db.LatestAnalysis(ctx, ev.ID, "e1", "o1")
	if err != nil || dataNo != 5 || string(body) != `4` {
		t.Errorf("latest is %d %s, %v", dataNo, body, err)
	}
	_, err = db.Analysis(ctx, ev.ID, 1, "e1", "o1")
	wantError(t, err, store.ErrNotFound) // older ones go
	if got := must[[]byte](t)(db.Analysis(ctx, ev.ID, 1, "e1", "o2")); string(got) != `2` {
		t.Error("another option's went with them")
	}
	wantError(t, db.SaveAnalysis(ctx, uuid.New(), 1, "e", "o", json.RawMessage(`{}`)), store.ErrNotFound)
	wantError(t, db.SaveAnalysis(ctx, ev.ID, 9, "e", "o", json.RawMessage(`NaN`)), store.ErrInvalid)
}

package store_test

import (
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

// clock is a time that a test turns.
type clock struct{ at atomic.Int64 }

func newClock() *clock {
	c := &clock{}
	c.at.Store(time.Date(2031, 3, 6, 9, 0, 0, 0, time.UTC).UnixMicro())
	return c
}

func (c *clock) now() time.Time          { return time.UnixMicro(c.at.Load()) }
func (c *clock) forward(d time.Duration) { c.at.Add(d.Microseconds()) }

func TestMembers(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	a := account(t, db, "Lee")
	ev, lead := storetest.Event(t, db, nil)
	other, _ := storetest.Event(t, db, nil)
	ana := storetest.Scout(t, db, ev.ID, "ana")
	storetest.Scout(t, db, other.ID, "ANA") // another event, another person
	bo := must[store.Member](t)(db.AddMember(ctx, ev.ID, store.NewMember{AccountID: &a.ID, Role: record.RoleCoach, Nickname: "Bo"}))
	same(t, "members", []store.Member{ana, bo, lead}, must[[]store.Member](t)(db.Members(ctx, ev.ID)))
	same(t, "of the account", bo, must[store.Member](t)(db.MemberOfAccount(ctx, ev.ID, a.ID)))
	_, err := db.MemberOfAccount(ctx, other.ID, a.ID)
	wantError(t, err, store.ErrNotFound)

	nobody := uuid.New()
	for name, test := range map[string]struct {
		event uuid.UUID
		n     store.NewMember
		want  error
	}{
		"NicknameTaken": {ev.ID, store.NewMember{Role: record.RoleScout, Nickname: "Ana"}, store.ErrExists},
		"AccountTwice":  {ev.ID, store.NewMember{AccountID: &a.ID, Role: record.RoleLead, Nickname: "Bo 2"}, store.ErrExists},
		"NoEvent":       {uuid.New(), store.NewMember{Role: record.RoleScout, Nickname: "x"}, store.ErrNotFound},
		"NoAccount":     {ev.ID, store.NewMember{AccountID: &nobody, Role: record.RoleScout, Nickname: "x"}, store.ErrNotFound},
		"NoRole":        {ev.ID, store.NewMember{Nickname: "x"}, store.ErrInvalid},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := db.AddMember(ctx, test.event, test.n)
			wantError(t, err, test.want)
		})
	}

	renamed := must[store.Member](t)(db.RenameMember(ctx, ev.ID, ana.ID, "s03"))
	if renamed.Nickname != "s03" || renamed.ID != ana.ID {
		t.Errorf("got %+v", renamed)
	}
	must[store.Member](t)(db.RenameMember(ctx, ev.ID, ana.ID, "S03")) // its own name in other letters
	_, err = db.RenameMember(ctx, ev.ID, ana.ID, "LEAD")
	wantError(t, err, store.ErrExists)
	_, err = db.RenameMember(ctx, other.ID, ana.ID, "x")
	wantError(t, err, store.ErrNotFound)

	wantError(t, db.RemoveMember(ctx, other.ID, ana.ID), store.ErrNotFound)
	if err := db.RemoveMember(ctx, ev.ID, ana.ID); err != nil {
		t.Fatal(err)
	}
	wantError(t, db.RemoveMember(ctx, ev.ID, ana.ID), store.ErrNotFound)
	_, err = db.RenameMember(ctx, ev.ID, ana.ID, "x")
	wantError(t, err, store.ErrNotFound)
	storetest.Scout(t, db, ev.ID, "s03") // the nickname is free
	wantError(t, db.RemoveMember(ctx, ev.ID, lead.ID), store.ErrConflict)
}

// TestLeadsRemoveEachOther: one stays.
func TestLeadsRemoveEachOther(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	leads := []store.Member{lead}
	for _, name := range []string{"b", "c", "d"} {
		leads = append(leads, must[store.Member](t)(db.AddMember(ctx, ev.ID, store.NewMember{Role: record.RoleLead, Nickname: name})))
	}
	var wg sync.WaitGroup
	var refused atomic.Int32
	for _, m := range leads {
		wg.Go(func() {
			if err := db.RemoveMember(ctx, ev.ID, m.ID); err != nil {
				wantError(t, err, store.ErrConflict)
				refused.Add(1)
			}
		})
	}
	wg.Wait()
	if left := must[[]store.Member](t)(db.Members(ctx, ev.ID)); len(left) != 1 || refused.Load() != 1 {
		t.Errorf("%d leads are left, %d were refused", len(left), refused.Load())
	}
}

func TestSessions(t *testing.T) {
	t.Parallel()
	at, c := storetest.URL(t), newClock()
	db := storetest.Open(t, at, store.Options{Now: c.now})
	ctx := t.Context()
	a := account(t, db, "Lee")
	ev, lead := storetest.Event(t, db, nil)
	other, _ := storetest.Event(t, db, nil)
	until := c.now().Add(time.Hour).UTC()

	own := must[store.Session](t)(db.CreateSession(ctx, store.NewSession{AccountID: a.ID, TokenHash: []byte("own"), ExpiresAt: until}))
	same(t, "own", store.Session{AccountID: a.ID, Nickname: "Lee", ExpiresAt: until}, own)
	same(t, "own, read", own, must[store.Session](t)(db.Session(ctx, uuid.Nil, []byte("own"))))
	mine := must[store.Session](t)(db.CreateSession(ctx, store.NewSession{EventID: ev.ID, MemberID: lead.ID, TokenHash: []byte("mine"), DeviceID: "d1", ExpiresAt: until}))
	same(t, "member's", store.Session{EventID: ev.ID, MemberID: lead.ID, Role: record.RoleLead, Nickname: "lead", DeviceID: "d1", ExpiresAt: until}, mine)
	same(t, "member's, read", mine, must[store.Session](t)(db.Session(ctx, ev.ID, []byte("mine"))))

	gone := func(event uuid.UUID, token string) {
		t.Helper()
		_, err := db.Session(ctx, event, []byte(token))
		wantError(t, err, store.ErrNotFound)
	}
	// A token is good for its own event only.
	gone(other.ID, "mine")
	gone(uuid.Nil, "mine")
	gone(ev.ID, "own")
	gone(ev.ID, "min")
	_, err := db.CreateSession(ctx, store.NewSession{EventID: other.ID, MemberID: lead.ID, TokenHash: []byte("x"), ExpiresAt: until})
	wantError(t, err, store.ErrNotFound)
	_, err = db.CreateSession(ctx, store.NewSession{AccountID: uuid.New(), TokenHash: []byte("x"), ExpiresAt: until})
	wantError(t, err, store.ErrNotFound)
	_, err = db.CreateSession(ctx, store.NewSession{AccountID: a.ID, TokenHash: []byte("own"), ExpiresAt: until})
	wantError(t, err, store.ErrExists)

	for range 2 {
		if err := db.RevokeSession(ctx, uuid.Nil, []byte("own")); err != nil {
			t.Error(err)
		}
	}
	gone(uuid.Nil, "own")
	if err := db.RevokeSessionsOf(ctx, ev.ID, lead.ID); err != nil {
		t.Error(err)
	}
	gone(ev.ID, "mine")

	ana := storetest.Scout(t, db, ev.ID, "ana")
	must[store.Session](t)(db.CreateSession(ctx, store.NewSession{EventID: ev.ID, MemberID: ana.ID, TokenHash: []byte("ana"), ExpiresAt: until}))
	if err := db.RemoveMember(ctx, ev.ID, ana.ID); err != nil {
		t.Fatal(err)
	}
	gone(ev.ID, "ana")
	_, err = db.CreateSession(ctx, store.NewSession{EventID: ev.ID, MemberID: ana.ID, TokenHash: []byte("again"), ExpiresAt: until})
	wantError(t, err, store.ErrNotFound)

	// A session that a device got while its member was being removed is no good.
	ben := storetest.Scout(t, db, ev.ID, "ben")
	must[store.Session](t)(db.CreateSession(ctx, store.NewSession{EventID: ev.ID, MemberID: ben.ID, TokenHash: []byte("ben"), ExpiresAt: until}))
	if _, err := db.Pool().Exec(ctx, `update member set removed_at = made_at where member_id = $1`, ben.ID); err != nil {
		t.Fatal(err)
	}
	gone(ev.ID, "ben")

	must[store.Session](t)(db.CreateSession(ctx, store.NewSession{AccountID: a.ID, TokenHash: []byte("late"), ExpiresAt: until}))
	c.forward(time.Hour)
	gone(uuid.Nil, "late")
	// A new session clears those that ended.
	must[store.Session](t)(db.CreateSession(ctx, store.NewSession{AccountID: a.ID, TokenHash: []byte("new"), ExpiresAt: until.Add(time.Hour)}))
	c.forward(time.Microsecond)
	must[store.Session](t)(db.CreateSession(ctx, store.NewSession{AccountID: a.ID, TokenHash: []byte("newer"), ExpiresAt: until.Add(time.Hour)}))
	var rows int
	if err := db.Pool().QueryRow(ctx, `select count(*) from session where event_id = $1`, uuid.Nil).Scan(&rows); err != nil || rows != 2 {
		t.Errorf("%d rows, %v", rows, err)
	}
}

func TestCodes(t *testing.T) {
	t.Parallel()
	at, c := storetest.URL(t), newClock()
	db := storetest.Open(t, at, store.Options{Now: c.now})
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	code := func(hash string, uses *int) store.Code {
		t.Helper()
		c.forward(time.Second)
		return must[store.Code](t)(db.CreateCode(ctx, ev.ID, store.NewCode{
			Hash: []byte(hash), Role: record.RoleScout, Label: "Friday", ExpiresAt: c.now().Add(time.Hour).UTC(), Uses: uses,
		}))
	}
	two := 2
	open, limited, revoked := code("open", nil), code("limited", &two), code("revoked", nil)
	same(t, "codes", []store.Code{revoked, limited, open}, must[[]store.Code](t)(db.Codes(ctx, ev.ID)))
	_, err := db.CreateCode(ctx, ev.ID, store.NewCode{Hash: []byte("open"), Role: record.RoleScout, ExpiresAt: c.now()})
	wantError(t, err, store.ErrExists)
	_, err = db.CreateCode(ctx, uuid.New(), store.NewCode{Hash: []byte("x"), Role: record.RoleScout, ExpiresAt: c.now()})
	wantError(t, err, store.ErrNotFound)

	var n int
	redeem := func(code, nickname, device string) (store.Event, store.Member, error) {
		n++
		return db.RedeemCode(ctx, store.Redemption{
			CodeHash: []byte(code), Nickname: nickname, DeviceID: device,
			TokenHash: []byte{byte(n)}, ExpiresAt: c.now().Add(time.Hour),
		})
	}
	got, ana, err := redeem("open", "Ana", "tablet-1")
	if err != nil || got.ID != ev.ID || ana.Role != record.RoleScout || ana.Nickname != "Ana" || ana.DeviceID != "tablet-1" {
		t.Fatalf("joined %+v as %+v, %v", got, ana, err)
	}
	s := must[store.Session](t)(db.Session(ctx, ev.ID, []byte{1}))
	if s.MemberID != ana.ID || s.Role != record.RoleScout || s.DeviceID != "tablet-1" {
		t.Errorf("session %+v", s)
	}
	before := must[int64](t)(db.ChangeNo(ctx, ev.ID))
	_, again, err := redeem("open", "ANA", "tablet-1")
	if err != nil || again.ID != ana.ID {
		t.Errorf("the same device is %+v, %v", again, err)
	}
	if now := must[int64](t)(db.ChangeNo(ctx, ev.ID)); now != before {
		t.Error("coming back is a change of the members")
	}
	for _, device := range []string{"tablet-2", ""} {
		_, _, err = redeem("open", "ana", device)
		wantError(t, err, store.ErrExists)
	}
	_, _, err = redeem("open", lead.Nickname, "tablet-1")
	wantError(t, err, store.ErrExists) // another role's
	_, _, err = redeem("none", "x", "tablet-1")
	wantError(t, err, store.ErrNotFound)
	// A link for one person bears the name as its label; a code for all does not.
	once := 1
	must[store.Code](t)(db.CreateCode(ctx, ev.ID, store.NewCode{
		Hash: []byte("link"), Role: record.RoleScout, Label: "Friday", ExpiresAt: c.now().Add(time.Hour), Uses: &once,
	}))
	_, friday, err := redeem("link", "", "tablet-9")
	if err != nil || friday.Nickname != "Friday" {
		t.Errorf("without a nickname joined as %+v, %v", friday, err)
	}
	_, _, err = redeem("open", "", "tablet-1")
	wantError(t, err, store.ErrInvalid)
	must[store.Code](t)(db.CreateCode(ctx, ev.ID, store.NewCode{Hash: []byte("bare"), Role: record.RoleScout, ExpiresAt: c.now().Add(time.Hour)}))
	_, _, err = redeem("bare", "", "tablet-1")
	wantError(t, err, store.ErrInvalid)

	// A nickname that is taken uses nothing up; the second and last use works.
	_, _, err = redeem("limited", "Ben", "tablet-3")
	if err != nil {
		t.Fatal(err)
	}
	_, _, err = redeem("limited", "Ben", "tablet-4")
	wantError(t, err, store.ErrExists)
	if _, _, err = redeem("limited", "Cleo", "tablet-4"); err != nil {
		t.Error(err)
	}
	_, _, err = redeem("limited", "Dana", "tablet-5")
	wantError(t, err, store.ErrGone)

	for range 2 {
		if err := db.RevokeCode(ctx, ev.ID, revoked.ID); err != nil {
			t.Error(err)
		}
	}
	_, _, err = redeem("revoked", "Dana", "tablet-5")
	wantError(t, err, store.ErrGone)
	wantError(t, db.RevokeCode(ctx, uuid.New(), open.ID), store.ErrNotFound)

	// The lead made room for somebody: the first device takes the place.
	eve := storetest.Scout(t, db, ev.ID, "Eve")
	_, joined, err := redeem("open", "eve", "tablet-6")
	if err != nil || joined.ID != eve.ID {
		t.Errorf("joined as %+v, %v", joined, err)
	}
	_, _, err = redeem("open", "eve", "tablet-7")
	wantError(t, err, store.ErrExists)

	yes, no := true, false
	must[store.Event](t)(db.UpdateEvent(ctx, ev.ID, store.EventPatch{Ended: &yes}, nil))
	_, _, err = redeem("open", "Finn", "tablet-8")
	wantError(t, err, store.ErrGone)
	must[store.Event](t)(db.UpdateEvent(ctx, ev.ID, store.EventPatch{Ended: &no}, nil))
	c.forward(2 * time.Hour)
	_, _, err = redeem("open", "Finn", "tablet-8")
	wantError(t, err, store.ErrGone)
	for _, m := range must[[]store.Member](t)(db.Members(ctx, ev.ID)) {
		if m.Nickname == "Dana" || m.Nickname == "Finn" {
			t.Errorf("%s joined all the same", m.Nickname)
		}
	}
}

// TestLastUseOfACode: many try at once, one joins.
func TestLastUseOfACode(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, _ := storetest.Event(t, db, nil)
	one := 1
	must[store.Code](t)(db.CreateCode(ctx, ev.ID, store.NewCode{Hash: []byte("c"), Role: record.RoleLead, ExpiresAt: time.Now().Add(time.Hour), Uses: &one}))
	var wg sync.WaitGroup
	var joined atomic.Int32
	for i := range 8 {
		wg.Go(func() {
			_, _, err := db.RedeemCode(ctx, store.Redemption{
				CodeHash: []byte("c"), Nickname: "n" + string(rune('a'+i)), DeviceID: "d", TokenHash: []byte{byte(i)}, ExpiresAt: time.Now().Add(time.Hour),
			})
			if err == nil {
				joined.Add(1)
			} else {
				wantError(t, err, store.ErrGone)
			}
		})
	}
	wg.Wait()
	if joined.Load() != 1 {
		t.Errorf("%d joined by a code for one", joined.Load())
	}
}

// TestOneNicknameAtOnce: two devices, one nickname, one member.
func TestOneNicknameAtOnce(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, _ := storetest.Event(t, db, nil)
	must[store.Code](t)(db.CreateCode(ctx, ev.ID, store.NewCode{Hash: []byte("c"), Role: record.RoleScout, ExpiresAt: time.Now().Add(time.Hour)}))
	var wg sync.WaitGroup
	var joined atomic.Int32
	for i := range 6 {
		wg.Go(func() {
			_, _, err := db.RedeemCode(ctx, store.Redemption{
				CodeHash: []byte("c"), Nickname: "ana", DeviceID: "d" + string(rune('a'+i)), TokenHash: []byte{byte(i)}, ExpiresAt: time.Now().Add(time.Hour),
			})
			if err == nil {
				joined.Add(1)
			} else {
				wantError(t, err, store.ErrExists)
			}
		})
	}
	wg.Wait()
	if joined.Load() != 1 {
		t.Errorf("%d devices are ana", joined.Load())
	}
}

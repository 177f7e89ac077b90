package api

import (
	"encoding/hex"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"sextant/api/auth"
	"sextant/store"
)

func TestSetUp(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	secret := auth.NewToken()
	if err := f.db.SetSetting(t.Context(), store.SettingSetup, hex.EncodeToString(auth.HashToken(secret))); err != nil {
		t.Fatal(err)
	}
	c := f.client()
	var before sessionView
	c.get("/api/session").want(200, &before)
	if before.SetUp || before.Account != nil || before.Protocol != protocol {
		t.Errorf("before the set-up the session is %+v", before)
	}
	body := func(secret, name, password string) map[string]string {
		return map[string]string{"secret": secret, "name": name, "password": password}
	}
	c.send("POST", "/api/setup", body("wrong", leadName, leadPassword)).problem(wrongSecret)
	c.send("POST", "/api/setup", body(secret, leadName, "short")).problem(invalid, "/password", "at least 10")
	c.send("POST", "/api/setup", body(secret, " ", leadPassword)).problem(invalid, "/name")

	res := c.send("POST", "/api/setup", body(secret, leadName, leadPassword)).want(201)
	cookie := res.header.Get("Set-Cookie")
	for _, part := range []string{cookieName + "=", "HttpOnly", "SameSite=Strict", "Path=/"} {
		if !strings.Contains(cookie, part) {
			t.Errorf("cookie %q lacks %s", cookie, part)
		}
	}
	var after sessionView
	c.get("/api/session").want(200, &after)
	if !after.SetUp || after.Account == nil || after.Account.Name != leadName || after.Role != "" {
		t.Errorf("after the set-up the session is %+v", after)
	}
	f.client().send("POST", "/api/setup", body(secret, "eve", leadPassword)).problem(ended, "Sign in instead")
}

func TestSignIn(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()

	t.Run("WrongPasswordAndUnknownNameAreAlike", func(t *testing.T) {
		c := f.client()
		a := c.send("POST", "/api/session", map[string]string{"name": leadName, "password": "not the password"}).problem(wrongSecret)
		b := c.send("POST", "/api/session", map[string]string{"name": "nobody", "password": "not the password"}).problem(wrongSecret)
		a.RequestID, b.RequestID = "", ""
		if diff := cmp.Diff(a, b, cmp.AllowUnexported(problem{})); diff != "" {
			t.Errorf("a name can be told from its absence: %s", diff)
		}
	})

	t.Run("SeesOwnEvents", func(t *testing.T) {
		c := f.client()
		var s sessionView
		c.send("POST", "/api/session", map[string]string{"name": strings.ToUpper(leadName), "password": leadPassword}).want(201, &s)
		if len(s.Events) != 1 || s.Events[0].EventID != lead.event || s.Events[0].Role != "lead" {
			t.Errorf("events %+v", s.Events)
		}
	})

	t.Run("NeitherNor", func(t *testing.T) {
		f.client().send("POST", "/api/session", map[string]string{"name": leadName}).problem(invalid)
	})

	t.Run("SignOutEndsTheSession", func(t *testing.T) {
		c := f.client()
		res := c.send("POST", "/api/session", map[string]string{"name": leadName, "password": leadPassword}).want(201)
		stolen := strings.Split(res.header.Get("Set-Cookie"), ";")[0]
		c.send("DELETE", "/api/session", nil).want(204)
		f.client().get("/api/events", "Cookie", stolen).problem(notSignedIn)
	})

	t.Run("AnotherSignInEndsTheSessionBefore", func(t *testing.T) {
		c := f.client()
		res := c.send("POST", "/api/session", map[string]string{"name": leadName, "password": leadPassword}).want(201)
		c.send("POST", "/api/session", map[string]string{"name": leadName, "password": leadPassword}).want(201)
		f.client().get("/api/events", "Cookie", strings.Split(res.header.Get("Set-Cookie"), ";")[0]).problem(notSignedIn)
	})

	t.Run("DamagedCookies", func(t *testing.T) {
		for _, cookie := range []string{"x", ".", lead.event.String() + ".", lead.event.String() + ".AAAA", "00000000-0000-0000-0000-000000000000.AAAA", strings.Repeat("9", 3000)} {
			f.client().get("/api/events", "Cookie", cookieName+"="+cookie).problem(notSignedIn)
		}
	})
}

func TestSecureCookie(t *testing.T) {
	t.Parallel()
	for url, want := range map[string]bool{"https://hall.example": true, "http://hall.example:4180": false, "": false} {
		s := &Server{opt: Options{PublicURL: url}, origins: http.NewCrossOriginProtection()}
		if err := s.trustPublicURL(); err != nil {
			t.Fatal(err)
		}
		if c := s.newCookie("x"); c.Secure != want {
			t.Errorf("public address %q: Secure = %v", url, c.Secure)
		}
	}
	for _, url := range []string{"hall.example", "ftp://hall.example", "https://hall.example/app"} {
		s := &Server{opt: Options{PublicURL: url}, origins: http.NewCrossOriginProtection()}
		if err := s.trustPublicURL(); err == nil {
			t.Errorf("public address %q is taken", url)
		}
	}
}

func TestJoin(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	join := func(code, nickname, device string) *answer {
		return f.client().send("POST", "/api/session", map[string]string{"code": code, "nickname": nickname, "device": device})
	}
	code := lead.code("scout")

	var s sessionView
	join(code.Code, " s03 ", "tablet 1").want(201, &s)
	if s.Role != "scout" || s.Nickname != "s03" || s.EventID == nil || *s.EventID != lead.event {
		t.Errorf("session %+v", s)
	}
	join(strings.ToLower(strings.ReplaceAll(code.Code, "-", " ")), "s03", "tablet 1").want(201) // comes back
	join(code.Code, "S03", "tablet 2").problem(alreadyThere, "S03", "/nickname")
	join(code.Code, "", "tablet 2").problem(invalid, "/nickname")
	join(code.Code, strings.Repeat("x", 41), "tablet 2").problem(invalid, "/nickname", "40 is the limit")
	join(code.Code, "s04", "").problem(invalid, "/device")
	join("2222-2222", "s04", "tablet 2").problem(wrongSecret)

	t.Run("EndedByTime", func(t *testing.T) {
		old, err := f.db.CreateCode(t.Context(), lead.event, store.NewCode{Hash: auth.HashCode("AAAA-AAAA"), Role: "scout", ExpiresAt: time.Now().Add(-time.Second)})
		if err != nil {
			t.Fatal(err)
		}
		join("AAAA-AAAA", "s05", "tablet 3").problem(ended, "Ask the lead")
		lead.send("DELETE", ".codes/"+old.ID.String(), nil).want(204)
	})

	t.Run("Revoked", func(t *testing.T) {
		c := lead.code("scout")
		lead.send("DELETE", ".codes/"+c.CodeID.String(), nil).want(204)
		join(c.Code, "s06", "tablet 3").problem(ended)
		lead.send("DELETE", ".codes/"+lead.event.String(), nil).problem(notFound)
	})

	t.Run("UsedUp", func(t *testing.T) {
		var c codeView
		lead.send("POST", ".codes", map[string]any{"role": "coach", "hours": 1, "uses": 1}).want(201, &c)
		join(c.Code, "cora", "phone").want(201)
		join(c.Code, "carl", "phone 2").problem(ended)
	})

	t.Run("CodesAreListedWithoutTheirSecret", func(t *testing.T) {
		a := lead.get(".codes").want(200)
		if strings.Contains(string(a.body), code.Code) || !strings.Contains(string(a.body), code.CodeID.String()) {
			t.Errorf("codes: %s", a.body)
		}
	})

	t.Run("BadRequests", func(t *testing.T) {
		lead.send("POST", ".codes", map[string]any{"role": "boss", "hours": 1}).problem(invalid, "/role")
		lead.send("POST", ".codes", map[string]any{"role": "scout", "hours": 0}).problem(invalid, "/hours")
		lead.send("POST", ".codes", map[string]any{"role": "scout", "hours": 5, "uses": 0}).problem(invalid, "/uses")
	})
}

func TestTooManyTries(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	f.lead()
	c := f.client()
	guess := map[string]string{"code": "2222-2222", "nickname": "eve", "device": "d"}
	for range 10 {
		c.send("POST", "/api/session", guess).problem(wrongSecret)
	}
	p := c.send("POST", "/api/session", guess)
	p.problem(tooManyTries, "Wait")
	if p.header.Get("Retry-After") == "" {
		t.Error("no Retry-After")
	}
	// The right password does not get past it either, until the wait is over.
	right := map[string]string{"name": leadName, "password": leadPassword}
	c.send("POST", "/api/session", right).problem(tooManyTries)
	f.now.add(time.Minute)
	c.send("POST", "/api/session", right).want(201)
}

func TestMembers(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	scout := lead.join("scout", "s03")
	var list struct{ Members []memberView }
	lead.get(".members").want(200, &list)
	if len(list.Members) != 2 {
		t.Fatalf("members %+v", list.Members)
	}
	var s sessionView
	scout.get("/api/session").want(200, &s)
	path := ".members/" + s.MemberID.String()

	lead.send("PATCH", path, map[string]string{"nickname": leadName}).problem(alreadyThere)
	lead.send("PATCH", path, map[string]string{"nickname": "a\u0007b"}).problem(malformed, "control character")
	var m memberView
	lead.send("PATCH", path, map[string]string{"nickname": "s04"}).want(200, &m)
	scout.get("/api/session").want(200, &s)
	if m.Nickname != "s04" || s.Nickname != "s04" {
		t.Errorf("renamed to %q, the session says %q", m.Nickname, s.Nickname)
	}

	lead.send("DELETE", path, nil).want(204)
	scout.get(".teams").problem(notSignedIn)
	lead.send("DELETE", path, nil).problem(notFound)

	lead.get("/api/session").want(200, &s)
	lead.send("DELETE", ".members/"+s.Events[0].MemberID.String(), nil).problem(inUse, "last lead")
}

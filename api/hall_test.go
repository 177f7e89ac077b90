package api

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/prometheus/client_golang/prometheus"

	"sextant/store/storetest"
)

// TestMovedSinceTabletsJoined: tablets join at one address; the server comes
// back at another. The lead is told, a scout is not, and at the old address
// nobody is.
func TestMovedSinceTabletsJoined(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	at := func(url string) *fixture { return serveWith(t, db, func(o *Options) { o.PublicURL = url }) }
	moved := func(c *client) (found []string) {
		t.Helper()
		var s sessionView
		c.get("/api/session").want(200, &s)
		for _, w := range s.Warnings {
			if w.Code == "moved" {
				found = append(found, w.Message)
			}
		}
		return found
	}
	first := at("http://hall.test:4180")
	lead := first.lead().withSchedule(4, 2)
	if len(moved(lead)) > 0 {
		t.Error("warned before any tablet joined")
	}
	scout := lead.join("scout", "s03")

	elsewhere := func(c *client, f *fixture) *client {
		for _, cookie := range c.http.Jar.Cookies(mustURL(t, c.f.base+"/")) {
			c.http.Jar.SetCookies(mustURL(t, f.base+"/"), []*http.Cookie{cookie})
		}
		return &client{f: f, http: c.http, event: c.event}
	}
	second := at("http://hall.test:4190")
	leadThere, scoutThere := elsewhere(lead, second), elsewhere(scout, second)
	if got := moved(leadThere); len(got) != 1 || !strings.Contains(got[0], "http://hall.test:4180") || !strings.Contains(got[0], "http://hall.test:4190") {
		t.Errorf("after the port changed: %q", got)
	}
	if got := moved(scoutThere); len(got) > 0 {
		t.Errorf("a scout is told %q", got)
	}
	if got := moved(elsewhere(lead, at("http://hall.test:4180"))); len(got) > 0 {
		t.Errorf("back at the old port: %q", got)
	}
	// Records that arrive count as well as joins, but not at each request.
	scoutThere.push(scoutThere.observation("Q1", "40101", "s03", 1))
	if got := moved(elsewhere(lead, at("http://hall.test:4180"))); len(got) != 1 || !strings.Contains(got[0], ":4190") {
		t.Errorf("tablets worked at both: %q", got)
	}
	second.now.add(61 * 24 * time.Hour)
	seen, err := second.srv.Elsewhere(t.Context())
	if err != nil || len(seen) != 0 {
		t.Errorf("two months later: %v, %v", seen, err)
	}
}

func TestWarnings(t *testing.T) {
	t.Parallel()
	low := Warning{Code: "disk_low", Message: "Delete something."}
	hall := &Hall{Page: "http://hall.test:4182", Fingerprint: "AA:BB", Ends: time.Date(2031, 9, 1, 0, 0, 0, 0, time.UTC)}
	gauge := prometheus.NewGauge(prometheus.GaugeOpts{Name: "sextant_disk_free_bytes", Help: "Free."})
	f := serveWith(t, storetest.New(t), func(o *Options) {
		o.Warnings, o.Hall, o.Collectors = func() []Warning { return []Warning{low} }, hall, []prometheus.Collector{gauge}
	})
	lead := f.lead()
	scout, coach := lead.join("scout", "s03"), lead.join("coach", "c")
	other := lead.join("lead", "second lead")
	for name, tt := range map[string]struct {
		c    *client
		told bool
	}{"Account": {lead, true}, "Lead": {other, true}, "Coach": {coach, false}, "Scout": {scout, false}, "Nobody": {f.client(), false}} {
		var s sessionView
		a := tt.c.get("/api/session").want(200, &s)
		if told := cmp.Equal(s.Warnings, []Warning{low}) && cmp.Equal(s.Hall, hall); told != tt.told || strings.Contains(string(a.body), "Delete") != tt.told {
			t.Errorf("%s: %s", name, a.body)
		}
	}
	if a := f.client().get("/readyz").want(200); string(a.body) != "ready\nwarning disk_low\n" {
		t.Errorf("readiness: %q", a.body)
	}
	rec := httptest.NewRecorder()
	f.srv.Metrics().ServeHTTP(rec, httptest.NewRequest("GET", "/metrics", nil))
	if !strings.Contains(rec.Body.String(), "sextant_disk_free_bytes") {
		t.Error("the metrics lack what was added")
	}
}

// TestBehindAProxy: what a proxy says of the client counts when it is one that
// we were told to trust, and only then.
func TestBehindAProxy(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	serve(t, db).lead()
	trusting := func(who string) *fixture {
		return serveWith(t, db, func(o *Options) { o.TrustedProxies = []netip.Prefix{netip.MustParsePrefix(who)} })
	}
	secure := func(f *fixture, headers ...string) bool {
		t.Helper()
		a := f.client().send("POST", "/api/session", map[string]string{"name": leadName, "password": leadPassword}, headers...).want(201)
		return strings.Contains(a.header.Get("Set-Cookie"), "Secure")
	}
	for name, tt := range map[string]struct {
		proxies string
		proto   string
		want    bool
	}{
		"Trusted":           {"127.0.0.0/8", "https", true},
		"TrustedSaysHTTP":   {"127.0.0.0/8", "http", false},
		"TrustedHasTheLast": {"127.0.0.0/8", "https, http", false},
		"Spoofed":           {"10.0.0.0/8", "https", false},
		"Silent":            {"127.0.0.0/8", "", false},
	} {
		if got := secure(trusting(tt.proxies), "X-Forwarded-Proto", tt.proto); got != tt.want {
			t.Errorf("%s: the cookie is for TLS only: %v, want %v", name, got, tt.want)
		}
	}

	// The limit of wrong tries is per client, as a trusted proxy tells it. What
	// the client itself put in front of the proxy's word counts for nothing.
	guess := map[string]string{"code": "2222-2222", "nickname": "eve", "device": "d"}
	tries := func(f *fixture, forwarded func(i int) string) (limited int) {
		t.Helper()
		for i := range 12 {
			if a := f.client().send("POST", "/api/session", guess, "X-Forwarded-For", forwarded(i)); a.status == http.StatusTooManyRequests {
				limited++
			}
		}
		return limited
	}
	for name, tt := range map[string]struct {
		proxies   string
		forwarded func(int) string
		want      bool
	}{
		"TwelveClients":     {"127.0.0.0/8", func(i int) string { return fmt.Sprintf("203.0.113.%d", i) }, false},
		"OneClient":         {"127.0.0.0/8", func(int) string { return "203.0.113.7" }, true},
		"OneClientInvents":  {"127.0.0.0/8", func(i int) string { return fmt.Sprintf("198.51.100.%d, 203.0.113.7", i) }, true},
		"ThroughTwoProxies": {"127.0.0.0/8", func(i int) string { return fmt.Sprintf("203.0.113.%d, 127.0.0.9", i) }, false},
		"UntrustedInvents":  {"10.0.0.0/8", func(i int) string { return fmt.Sprintf("203.0.113.%d", i) }, true},
	} {
		if got := tries(trusting(tt.proxies), tt.forwarded) > 0; got != tt.want {
			t.Errorf("%s: limited %v, want %v", name, got, tt.want)
		}
	}
}

// TestOverTLS has a connection that is itself TLS, without any setting.
func TestOverTLS(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	f.lead()
	web := httptest.NewTLSServer(f.srv.Handler())
	t.Cleanup(web.Close)
	c := &client{f: &fixture{t: t, base: web.URL, log: f.log}, http: web.Client()}
	a := c.send("POST", "/api/session", map[string]string{"name": leadName, "password": leadPassword}).want(201)
	if cookie := a.header.Get("Set-Cookie"); !strings.Contains(cookie, "Secure") {
		t.Errorf("cookie %q", cookie)
	}
	if a.header.Get("Strict-Transport-Security") != "" {
		t.Error("HSTS would lock the page over plain HTTP, on another port of the same name")
	}
}

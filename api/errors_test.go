package api

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"

	"sextant/api/auth"
	"sextant/api/engine"
	"sextant/stats/game"
	"sextant/stats/table"
	"sextant/store"
)

func TestAsProblem(t *testing.T) {
	t.Parallel()
	tests := []struct {
		err  error
		kind *kind
		item problemItem
	}{
		{fmt.Errorf("save: %w", store.ErrNotFound), notFound, problemItem{}},
		{fmt.Errorf("save: %w", store.ErrStale), stale, problemItem{}},
		{fmt.Errorf("save: %w", store.ErrExists), alreadyThere, problemItem{}},
		{fmt.Errorf("save: %w", store.ErrConflict), inUse, problemItem{}},
		{fmt.Errorf("save: %w", store.ErrGone), ended, problemItem{}},
		{fmt.Errorf("save: %w", store.ErrInvalid), invalid, problemItem{}},
		{fmt.Errorf("%w: singular", engine.ErrUnsolvable), unsolvable, problemItem{}},
		{auth.ErrPassword, invalid, problemItem{Pointer: "/password", Message: auth.ErrPassword.Error()}},
		{game.Problems{{File: "game.json", Line: 3, Pointer: "/id", Message: "wrong"}}, invalid, problemItem{File: "game.json", Line: 3, Pointer: "/id", Message: "wrong"}},
		{table.Errors{{File: "teams.csv", Line: 2, Column: "team", Message: "wrong"}}, invalid, problemItem{File: "teams.csv", Line: 2, Column: "team", Message: "wrong"}},
		{&store.LineError{Line: 7, Message: "wrong"}, invalid, problemItem{Line: 7, Message: "wrong"}},
		{context.DeadlineExceeded, unavailable, problemItem{}},
		{errors.New("password=hunter2"), internal, problemItem{}},
	}
	for _, tt := range tests {
		p := asProblem(tt.err)
		if p.Status != tt.kind.status || p.Title != tt.kind.title {
			t.Errorf("%v becomes %d %s, want %s", tt.err, p.Status, p.Title, tt.kind.slug)
		}
		if tt.item != (problemItem{}) && (len(p.Errors) != 1 || p.Errors[0] != tt.item) {
			t.Errorf("%v has the items %+v, want %+v", tt.err, p.Errors, tt.item)
		}
		text, err := json.Marshal(p)
		if err != nil || strings.Contains(string(text), "hunter2") {
			t.Errorf("%v is told to the caller: %s (%v)", tt.err, text, err)
		}
	}
}

// TestErrorsAreProblems holds that everything that is not an operation's
// answer is a problem document, too.
func TestErrorsAreProblems(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	big := bytes.Repeat([]byte("x"), 10<<20+1)

	lead.get("/api/no/such/thing").problem(notFound, "/api/docs")
	lead.get("/no/such/file.js").problem(notFound)
	lead.send("PUT", "/api/session", nil).problem(wrongMethod, "PUT")
	lead.send("POST", "/api/events", `{"name": `, "Content-Type", "application/json").problem(malformed, "1:9", "not JSON")
	lead.send("POST", "/api/events", `{"name": NaN}`, "Content-Type", "application/json").problem(malformed, "1:10")
	lead.send("POST", "/api/events", `<x/>`, "Content-Type", "application/xml").problem(wrongMedia)
	lead.send("POST", "/api/events", map[string]any{"name": 5, "wings": 2}).problem(invalid, "/name", "/wings", "property game")
	lead.send("PUT", ".teams", string(big), "Content-Type", csvType).problem(tooLarge)
	lead.send("PUT", ".teams", `{"teams":[]}`, "Content-Type", "application/xml").problem(wrongMedia, "text/csv")
	lead.send("PUT", ".teams", teamsCSV(), "Content-Type", "text/csv; charset=latin1").problem(wrongMedia, "UTF-8")
	lead.send("PUT", ".game", string(big)).problem(tooLarge)
	lead.send("POST", ".sync", string(big)).problem(tooLarge)
	lead.send("POST", "/api/session", string(big)).problem(tooLarge)
	lead.get("/api/events/not-a-uuid").problem(notFound)
	lead.get(".records?match=Q0").problem(invalid, `"parameter":"match"`)
	lead.get(".records?kind=secret").problem(invalid, `"parameter":"kind"`)
	lead.get(".sync?after=-1").problem(invalid, `"parameter":"after"`)
	lead.get(".sync?after=x").problem(invalid, `"parameter":"after"`)
	lead.get(".forecasts/Q77").problem(notFound, "Q77")
	lead.get(".forecasts/xx").problem(invalid, `"parameter":"match"`)
}

// TestSecretsAreNotEchoed holds that a refused body does not come back.
func TestSecretsAreNotEchoed(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	const password = "hunter2-hunter2"
	for _, body := range []string{
		`{"name": 5, "password": "` + password + `"}`,
		`{"name": "a", "password": ["` + password + `"]}`,
		`{"name": "a", "password": "` + password + `"`,
	} {
		a := f.client().send("POST", "/api/session", body, "Content-Type", "application/json")
		if a.status < 400 || strings.Contains(string(a.body), "hunter2") {
			t.Errorf("%s is answered %d %s", body, a.status, a.body)
		}
	}
	if strings.Contains(f.log.String(), "hunter2") {
		t.Error("the password stands in the log")
	}
}

func TestPanicBecomesAProblem(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	f.srv.echo.GET("/api/panic", func(echo.Context) error { panic("secret detail") })
	p := f.client().get("/api/panic").problem(internal)
	if strings.Contains(p.Detail, "secret") {
		t.Errorf("the caller is told %q", p.Detail)
	}
	if log := f.log.String(); !strings.Contains(log, "secret detail") || !strings.Contains(log, p.RequestID) {
		t.Errorf("the log does not name the panic and the request: %s", log)
	}
}

func TestFailureBecomesAProblem(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	f.db.Close()
	p := lead.get(".teams").problem(internal)
	if !strings.Contains(f.log.String(), p.RequestID) {
		t.Errorf("request %s is not in the log", p.RequestID)
	}
	lead.get("/readyz").problem(unavailable, "database")
	lead.get("/healthz").want(200)
}

func TestCrossOrigin(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	body := map[string]any{"role": "scout", "hours": 1}
	for _, headers := range [][]string{
		{"Sec-Fetch-Site", "cross-site"},
		{"Sec-Fetch-Site", "same-site"},
		{"Origin", "https://evil.example"},
	} {
		lead.send("POST", ".codes", body, headers...).problem(crossOrigin)
	}
	for _, headers := range [][]string{{"Sec-Fetch-Site", "same-origin"}, {"Origin", f.base}, nil} {
		lead.send("POST", ".codes", body, headers...).want(201)
	}
	// A link from elsewhere that only reads is fine: the cookie is not sent with it.
	lead.get(".teams", "Sec-Fetch-Site", "cross-site").want(200)
}

func TestHeaders(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	c := f.client()
	for path, policy := range map[string]string{
		"/": appPolicy, "/api/session": apiPolicy, "/api/nothing": apiPolicy, "/api/docs": docsPolicy(),
	} {
		a := c.get(path)
		for name, want := range securityHeaders {
			if got := a.header.Get(name); got != want {
				t.Errorf("%s: %s is %q, want %q", path, name, got, want)
			}
		}
		if got := a.header.Get("Content-Security-Policy"); got != policy {
			t.Errorf("%s: policy %q, want %q", path, got, policy)
		}
		if strings.HasPrefix(path, "/api/s") && a.header.Get("Cache-Control") != "private, no-cache" {
			t.Errorf("%s: Cache-Control %q", path, a.header.Get("Cache-Control"))
		}
		if len(a.header.Get("X-Request-Id")) != 36 {
			t.Errorf("%s: request id %q", path, a.header.Get("X-Request-Id"))
		}
	}
	// A client's own id does not get into the log.
	if a := c.get("/api/session", "X-Request-Id", "chosen"); a.header.Get("X-Request-Id") == "chosen" || strings.Contains(f.log.String(), "chosen") {
		t.Error("a client chooses its request id")
	}
}

func TestForwardedFor(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	f.lead()
	guess := map[string]string{"code": "2222-2222", "nickname": "eve", "device": "d"}
	for i := range 11 {
		a := f.client().send("POST", "/api/session", guess, "X-Forwarded-For", fmt.Sprintf("203.0.113.%d", i))
		if want := map[bool]int{true: http.StatusTooManyRequests, false: http.StatusUnauthorized}[i == 10]; a.status != want {
			t.Errorf("try %d with a made-up address answers %d, want %d", i+1, a.status, want)
		}
	}
}

func TestMetricsAndReadiness(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	f.lead().get(".teams").want(200)
	rec := httptest.NewRecorder()
	f.srv.Metrics().ServeHTTP(rec, httptest.NewRequest("GET", "/metrics", nil))
	text, err := io.ReadAll(rec.Body)
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{`route="/api/events/:event/teams"`, "sextant_live_subscribers 0", "go_goroutines"} {
		if !strings.Contains(string(text), part) {
			t.Errorf("metrics lack %s", part)
		}
	}
	f.client().get("/metrics").want(200) // the app's page, not the metrics
	if a := f.client().get("/metrics"); strings.Contains(string(a.body), "sextant_http") {
		t.Error("metrics are served to everybody")
	}
	f.client().get("/readyz").want(200)
	f.srv.Drain()
	f.client().get("/readyz").problem(unavailable, "shutting down")
}

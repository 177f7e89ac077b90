package api

import (
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/google/uuid"

	"sextant/api/auth"
	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

func TestMain(m *testing.M) { storetest.Main(m) }

const (
	leadName     = "ada-the-lead"
	leadPassword = "a password for tests"
)

// fixture is a server of its own on a database of its own.
type fixture struct {
	t    testing.TB
	db   *store.DB
	srv  *Server
	base string
	now  *clock
	log  *syncBuffer
}

// clock is a clock that a test moves.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) add(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

type syncBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *syncBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *syncBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// app is a web app as the build lays it out.
var testApp = fstest.MapFS{
	"index.html":              {Data: []byte("<!doctype html><title>Sextant</title>")},
	"service-worker.js":       {Data: []byte("// worker " + strings.Repeat("long ", 500))},
	"_app/immutable/a.abc.js": {Data: []byte("export const a = " + strings.Repeat("1+", 1000) + "1")},
	".keep":                   {Data: []byte("")},
}

// newFixture starts a server on an empty database.
func newFixture(t testing.TB) *fixture {
	t.Helper()
	return serve(t, storetest.New(t))
}

// serve starts a server on a database that is there.
func serve(t testing.TB, db *store.DB) *fixture {
	t.Helper()
	return serveWith(t, db, func(*Options) {})
}

// serveWith starts a server with other options.
func serveWith(t testing.TB, db *store.DB, change func(*Options)) *fixture {
	t.Helper()
	f := &fixture{t: t, db: db, now: &clock{at: time.Now()}, log: &syncBuffer{}}
	var err error
	opt := Options{
		Store: db, Now: f.now.now, App: testApp, Build: "test", Settle: 5 * time.Millisecond, Pause: time.Millisecond, Poll: 20 * time.Millisecond, Heartbeat: 50 * time.Millisecond,
		Logger: slog.New(slog.NewTextHandler(f.log, &slog.HandlerOptions{Level: slog.LevelDebug})),
	}
	change(&opt)
	f.srv, err = New(opt)
	if err != nil {
		t.Fatal(err)
	}
	web := httptest.NewServer(f.srv.Handler())
	f.base = web.URL
	ctx, cancel := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() {
		if err := f.srv.Run(ctx); err != nil {
			t.Errorf("Run: %v", err)
		}
	})
	t.Cleanup(func() {
		f.srv.Drain()
		web.CloseClientConnections()
		web.Close()
		cancel()
		running.Wait()
		f.srv.Close()
	})
	return f
}

// client is one browser.
type client struct {
	f    *fixture
	http *http.Client
	// event is the event that path parts beginning with "." belong to.
	event uuid.UUID
}

func (f *fixture) client() *client {
	f.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		f.t.Fatal(err)
	}
	return &client{f: f, http: &http.Client{Jar: jar, Timeout: 30 * time.Second}}
}

// answer is what came back.
type answer struct {
	t      testing.TB
	log    *syncBuffer
	what   string
	status int
	header http.Header
	body   []byte
}

// send sends a request. Path ".teams" is /api/events/{event}/teams. Body is
// sent as it is if it is text or bytes, as JSON otherwise. Headers are pairs.
func (c *client) send(method, path string, body any, headers ...string) *answer {
	c.f.t.Helper()
	if rest, ok := strings.CutPrefix(path, "."); ok {
		path = "/api/events/" + c.event.String()
		if rest != "" {
			path += "/" + rest
		}
	}
	var r io.Reader
	json0 := false
	switch b := body.(type) {
	case nil:
	case string:
		r = strings.NewReader(b)
	case []byte:
		r = bytes.NewReader(b)
	default:
		text, err := json.Marshal(b)
		if err != nil {
			c.f.t.Fatal(err)
		}
		r, json0 = bytes.NewReader(text), true
	}
	req, err := http.NewRequestWithContext(c.f.t.Context(), method, c.f.base+path, r)
	if err != nil {
		c.f.t.Fatal(err)
	}
	if json0 {
		req.Header.Set("Content-Type", "application/json")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	res, err := c.http.Do(req)
	if err != nil {
		c.f.t.Fatalf("%s %s: %v", method, path, err)
	}
	defer res.Body.Close()
	got, err := io.ReadAll(res.Body)
	if err != nil {
		c.f.t.Fatalf("%s %s: %v", method, path, err)
	}
	return &answer{t: c.f.t, log: c.f.log, what: method + " " + path, status: res.StatusCode, header: res.Header, body: got}
}

func (c *client) get(path string, headers ...string) *answer {
	c.f.t.Helper()
	return c.send("GET", path, nil, headers...)
}

// want checks the status and decodes the body into each of into.
func (a *answer) want(status int, into ...any) *answer {
	a.t.Helper()
	if a.status != status {
		if a.status >= http.StatusInternalServerError {
			a.t.Log(a.log.String())
		}
		a.t.Fatalf("%s answers %d, want %d: %s", a.what, a.status, status, a.body)
	}
	for _, dst := range into {
		if err := json.Unmarshal(a.body, dst); err != nil {
			a.t.Fatalf("%s: %v in %s", a.what, err, a.body)
		}
	}
	return a
}

// problem checks that the answer is a problem of a kind whose text has each of
// the parts in it, and returns it.
func (a *answer) problem(k *kind, parts ...string) problem {
	a.t.Helper()
	var p problem
	a.want(k.status, &p)
	if ct := a.header.Get("Content-Type"); ct != problemType {
		a.t.Errorf("%s: Content-Type %q, want %q", a.what, ct, problemType)
	}
	if p.Type != k.because("").Type || p.Status != k.status || p.Title != k.title || p.RequestID == "" {
		a.t.Errorf("%s: problem %s, want one of kind %s with a request id", a.what, a.body, k.slug)
	}
	for _, part := range parts {
		if !strings.Contains(string(a.body), part) {
			a.t.Errorf("%s: %q is not in the problem %s", a.what, part, a.body)
		}
	}
	return p
}

// leadHash is leadPassword's hash, made once: it takes a tenth of a second.
var leadHash = sync.OnceValues(func() (string, error) {
	return auth.HashPassword(context.Background(), leadPassword)
})

// account makes the first account and returns a browser with its own session,
// without the detour over a set-up link, which TestSetUp goes.
func (f *fixture) account() *client {
	f.t.Helper()
	ctx, secret := f.t.Context(), auth.HashToken("set-up")
	hash, err := leadHash()
	if err != nil {
		f.t.Fatal(err)
	}
	if err := f.db.SetSetting(ctx, store.SettingSetup, hex.EncodeToString(secret)); err != nil {
		f.t.Fatal(err)
	}
	account, err := f.db.CreateFirstAccount(ctx, secret, leadName, hash)
	if err != nil {
		f.t.Fatal(err)
	}
	token := auth.NewToken()
	if _, err := f.db.CreateSession(ctx, store.NewSession{AccountID: account.ID, TokenHash: auth.HashToken(token), ExpiresAt: time.Now().Add(sessionLife)}); err != nil {
		f.t.Fatal(err)
	}
	c := f.client()
	cookie := f.srv.newCookie(cookieValue{uuid.Nil, token}.String())
	c.http.Jar.SetCookies(mustURL(f.t, f.base), []*http.Cookie{&cookie})
	return c
}

// lead makes an account and an event and returns the lead's browser.
func (f *fixture) lead() *client {
	f.t.Helper()
	c := f.account()
	var ev eventView
	c.send("POST", "/api/events", map[string]any{
		"name": "Saltmarsh Test", "zone": "America/Chicago", "game": json.RawMessage(gameFile(f.t)), "our_team": "40101",
	}).want(201, &ev)
	c.event = ev.EventID
	return c
}

// gameFile is the first of the invented games.
func gameFile(t testing.TB) []byte {
	t.Helper()
	text, err := os.ReadFile("../testdata/games/slackwater.json")
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// code makes a join code at the lead's event.
func (c *client) code(role string) codeView {
	c.f.t.Helper()
	var code codeView
	c.send("POST", ".codes", map[string]any{"role": role, "hours": 12, "label": role + "s"}).want(201, &code)
	return code
}

// join returns the browser of somebody who joins the lead's event.
func (c *client) join(role, nickname string) *client {
	c.f.t.Helper()
	other := c.f.client()
	other.event = c.event
	other.send("POST", "/api/session", map[string]string{"code": c.code(role).Code, "nickname": nickname, "device": "device of " + nickname}).want(201)
	return other
}

const csvType = "text/csv"

// teamCount robots are at the test event, numbered from 40101.
const teamCount = 12

func teamNo(i int) record.TeamID { return record.TeamID(fmt.Sprint(40101 + i%teamCount)) }

func teamsCSV() string {
	var b strings.Builder
	b.WriteString("team,name,pit\n")
	for i := range teamCount {
		fmt.Fprintf(&b, "%s,Team %c,%d\n", teamNo(i), 'A'+i, i+1)
	}
	return b.String()
}

// matchesCSV is a schedule whose first so many matches are played. Robot i
// adds 5+i points, and a little noise.
func matchesCSV(matches, played int) string {
	var b strings.Builder
	b.WriteString("match,starts_at,alliance,teams,score,from_fouls\n")
	for m := range matches {
		for side, colour := range []string{"red", "blue"} {
			var teams []string
			score := (m*7 + side*3) % 5
			for k := range 3 {
				// The factors are units modulo 12, so the six robots differ.
				i := ((3*side+k)*[]int{1, 5, 7, 11}[m%4] + m) % teamCount
				teams = append(teams, string(teamNo(i)))
				score += 5 + i
			}
			result := ","
			if m < played {
				result = fmt.Sprintf("%d,0", score)
			}
			fmt.Fprintf(&b, "Q%d,2031-03-06T%02d:%02d:00-06:00,%s,%s,%s\n", m+1, 9+m/6, m%6*10, colour, strings.Join(teams, " "), result)
		}
	}
	return b.String()
}

// withSchedule gives the lead's event teams and a schedule.
func (c *client) withSchedule(matches, played int) *client {
	c.f.t.Helper()
	c.send("PUT", ".teams", teamsCSV(), "Content-Type", csvType).want(200)
	c.send("PUT", ".matches", matchesCSV(matches, played), "Content-Type", csvType).want(200)
	return c
}

// observation is a scout's first revision of a record of one robot in one match.
func (c *client) observation(match string, team record.TeamID, scout string, lamport int64) sentRevision {
	c.f.t.Helper()
	id, err := record.ParseMatch(match)
	if err != nil {
		c.f.t.Fatal(err)
	}
	return sentRevision{
		RevisionID: uuid.Must(uuid.NewV7()), RecordID: record.ObservationID(c.event, id, 1, team, scout), Parents: []uuid.UUID{},
		Kind: record.KindObservation, Lamport: lamport, MadeAt: time.Date(2031, 3, 6, 15, 0, 0, 0, time.UTC),
		Body: mustJSON(c.f.t, map[string]any{
			"match": match, "team": team, "scout": scout, "counts": map[string]any{"deck": map[string]int{"made": 3, "missed": 1}},
		}),
	}
}

func mustJSON(t testing.TB, v any) json.RawMessage {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// pushed is the answer to a push.
type pushed struct {
	Items    []outcome `json:"items"`
	ChangeNo int64     `json:"change_no"`
}

// push sends revisions and returns what became of them.
func (c *client) push(items ...any) pushed {
	c.f.t.Helper()
	var out pushed
	c.send("POST", ".sync", map[string]any{"protocol": 1, "device": "test device", "items": items}).want(200, &out)
	if len(out.Items) != len(items) {
		c.f.t.Fatalf("%d items sent, %d answered", len(items), len(out.Items))
	}
	return out
}

func mustURL(t testing.TB, s string) *url.URL {
	t.Helper()
	u, err := url.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

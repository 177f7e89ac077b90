package main

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"

	"sextant/store/storetest"
)

// inHall is a browser that finds every name on this machine, as in a hall whose
// network knows the laptop's name.
func inHall(t *testing.T, base string, roots *x509.CertPool) *browser {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	dial := func(ctx context.Context, network, address string) (net.Conn, error) {
		_, port, err := net.SplitHostPort(address)
		if err != nil {
			return nil, err
		}
		return (&net.Dialer{}).DialContext(ctx, network, net.JoinHostPort("127.0.0.1", port))
	}
	transport := &http.Transport{DialContext: dial, TLSClientConfig: &tls.Config{RootCAs: roots}, ForceAttemptHTTP2: true}
	t.Cleanup(transport.CloseIdleConnections)
	return &browser{t, base, &http.Client{Jar: jar, Timeout: time.Minute, Transport: transport}}
}

var pageLine = regexp.MustCompile(`(?m)^Each tablet learns once to trust it, at (http://\S+)$`)

// trust fetches the certificate from the page of a server and compares the
// fingerprint with what the server printed.
func trust(t *testing.T, s *server) *x509.CertPool {
	t.Helper()
	m := pageLine.FindStringSubmatch(s.out.String())
	if m == nil {
		t.Fatalf("the server does not say where its page is: %s", s.out)
	}
	tablet := inHall(t, m[1], nil)
	if page := string(tablet.call("GET", "/", nil, 200)); !strings.Contains(page, s.base) {
		t.Error("the page does not lead to the app")
	}
	der := tablet.call("GET", "/sextant-hall.crt", nil, 200)
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(der)
	printed := strings.NewReplacer(":", "", "\n", "", " ", "").Replace(s.out.String())
	if !strings.Contains(printed, strings.ToUpper(hex.EncodeToString(sum[:]))) {
		t.Errorf("the fingerprint is not printed: %s", s.out)
	}
	roots := x509.NewCertPool()
	roots.AddCert(cert)
	return roots
}

// TestServeTLS is a laptop in a hall over three starts.
func TestServeTLS(t *testing.T) {
	t.Parallel()
	env := []string{"DATABASE_URL=" + storetest.URL(t)}
	data := t.TempDir()
	args := []string{"--tls", "--name", "hall.test", "--http-port", "0", "--data", data}
	srv := startServer(t, env, args...)
	if !strings.HasPrefix(srv.base, "https://hall.test:") || !strings.Contains(srv.out.String(), "forbid teams' own wireless") {
		t.Fatalf("it says: %s", srv.out)
	}
	roots := trust(t, srv)
	lead := inHall(t, srv.base, roots)
	lead.call("POST", "/api/setup", map[string]string{"secret": srv.setUp, "name": "ada", "password": "a long password"}, 201)
	at, err := url.Parse(srv.base)
	if err != nil {
		t.Fatal(err)
	}
	plain := *at
	plain.Scheme = "http"
	if n := len(lead.http.Jar.Cookies(at)); n != 1 || len(lead.http.Jar.Cookies(&plain)) != 0 {
		t.Errorf("%d cookies over TLS, %d over plain HTTP", n, len(lead.http.Jar.Cookies(&plain)))
	}
	res, err := lead.http.Get(srv.base + "/api/session")
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(res.Body)
	res.Body.Close()
	if err != nil || res.ProtoMajor != 2 || !strings.Contains(string(body), `"fingerprint":"`) || res.Header.Get("Strict-Transport-Security") != "" {
		t.Errorf("HTTP/%d, %v, %s", res.ProtoMajor, res.Header, body)
	}
	if _, err := inHall(t, "", x509.NewCertPool()).http.Get(srv.base); err == nil {
		t.Error("a tablet that did not install the authority is not warned")
	}
	key := filepath.Join(data, "hall", "authority.pem")
	if info, err := os.Stat(key); err != nil || info.Mode().Perm() != 0o600 && runtime.GOOS != "windows" {
		t.Errorf("the key's file: %v, %v", info, err)
	}
	// A tablet joins, so this address matters from now on.
	event := newEvent(t, lead)
	var code struct{ Code string }
	lead.call("POST", event+"/codes", map[string]any{"role": "scout", "hours": 1}, 201, &code)
	inHall(t, srv.base, roots).call("POST", "/api/session", map[string]string{"code": code.Code, "nickname": "s01", "device": "tablet"}, 201)
	if code := srv.stop(); code != exitDone {
		t.Errorf("SIGTERM ends the program with %d", code)
	}

	same := startServer(t, env, append(args, "--listen", at.Host[strings.Index(at.Host, ":"):])...)
	if same.base != srv.base || strings.Contains(same.out.String(), "Careful") {
		t.Errorf("the same name and port: %s", same.out)
	}
	lead.call("GET", "/api/events", nil, 200) // signed in still, by the same authority
	same.stop()

	moved := startServer(t, env, "--tls", "--name", "other.test", "--http-port", "0", "--data", data)
	for _, part := range []string{"Careful: tablets worked with this server at " + srv.base, "certificate is: tablets"} {
		if !strings.Contains(moved.out.String(), part) {
			t.Errorf("the name changed and it does not say %q: %s", part, moved.out)
		}
	}
	lead.base = moved.base
	other := inHall(t, moved.base, trust(t, moved))
	var session struct{ Warnings []struct{ Code string } }
	other.call("POST", "/api/session", map[string]string{"name": "ada", "password": "a long password"}, 201, &session)
	if len(session.Warnings) != 1 || session.Warnings[0].Code != "moved" {
		t.Errorf("warnings of the lead: %+v", session.Warnings)
	}
}

// newEvent makes an event and returns its path in the API.
func newEvent(t *testing.T, lead *browser) string {
	t.Helper()
	game, err := os.ReadFile("../../testdata/games/slackwater.json")
	if err != nil {
		t.Fatal(err)
	}
	var event struct {
		EventID string `json:"event_id"`
	}
	lead.call("POST", "/api/events", map[string]any{"name": "Saltmarsh Test", "zone": "UTC", "game": rawJSON(game)}, 201, &event)
	at := "/api/events/" + event.EventID
	lead.call("PUT", at+"/teams", e2eTeams, 200)
	lead.call("PUT", at+"/matches", e2eHead+e2eQ1+e2eQ2, 200)
	return at
}

func TestServeTLSRefuses(t *testing.T) {
	t.Parallel()
	env := []string{"DATABASE_URL=" + storetest.URL(t)}
	data := t.TempDir()
	for name, tt := range map[string]struct {
		message string
		args    []string
	}{
		"Address":   {"--name: 192.168.1.2 is an address", []string{"--name", "192.168.1.2"}},
		"Name":      {"--name", []string{"--name", "laptop"}},
		"PublicURL": {"--public-url alone", []string{"--public-url", "https://hall.test"}},
		"Port":      {"--http-port", []string{"--http-port", "99999"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			cmd := program(t, env, append([]string{"serve", "--tls", "--listen", "127.0.0.1:0", "--metrics-listen", "", "--data", data}, tt.args...)...)
			out, err := cmd.CombinedOutput()
			if cmd.ProcessState.ExitCode() != exitUsage || !strings.Contains(string(out), tt.message) {
				t.Errorf("ends with %d (%v): %s", cmd.ProcessState.ExitCode(), err, out)
			}
		})
	}
}

func TestListenDefaults(t *testing.T) {
	t.Parallel()
	for want, c := range map[string]serveCommand{
		"127.0.0.1:4180": {}, // nobody else gets in unless it is said
		":4180":          {hallFlags: hallFlags{TLS: true}},
		"10.0.0.2:1":     {hallFlags: hallFlags{TLS: true}, listenFlags: listenFlags{Listen: "10.0.0.2:1"}},
	} {
		if got := c.listen(); got != want {
			t.Errorf("listens on %q, want %q", got, want)
		}
	}
}

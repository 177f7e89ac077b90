package hall

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// TestHandshake opens the name as a tablet does that has the authority.
func TestHandshake(t *testing.T) {
	t.Parallel()
	a, err := create("hall.test", time.Now())
	if err != nil {
		t.Fatal(err)
	}
	listener, err := tls.Listen("tcp", "127.0.0.1:0", NewKeeper(a, Addresses, time.Now).TLS())
	if err != nil {
		t.Fatal(err)
	}
	web := &http.Server{
		Handler:  http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, "here") }),
		ErrorLog: slog.NewLogLogger(slog.DiscardHandler, slog.LevelDebug),
	}
	go web.Serve(listener)
	t.Cleanup(func() { web.Close() })
	get := func(name string, roots *x509.CertPool) error {
		dial := func(ctx context.Context, network, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, network, listener.Addr().String())
		}
		c := &http.Client{Transport: &http.Transport{DialContext: dial, TLSClientConfig: &tls.Config{RootCAs: roots}, DisableKeepAlives: true}}
		res, err := c.Get("https://" + name + ":4180/")
		if err == nil {
			res.Body.Close()
		}
		return err
	}
	trusting := x509.NewCertPool()
	trusting.AddCert(a.cert)
	for _, name := range []string{"hall.test", "127.0.0.1"} {
		if err := get(name, trusting); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := get("other.test", trusting); err == nil {
		t.Error("another name is served without a warning")
	}
	if err := get("hall.test", x509.NewCertPool()); err == nil {
		t.Error("a tablet without the authority is not warned")
	}
}

func TestKeeperFollowsAddressesAndTime(t *testing.T) {
	t.Parallel()
	now := today
	here := []netip.Addr{netip.MustParseAddr("10.0.0.5")}
	k := NewKeeper(newAuthority(t, "hall.test"), func() []netip.Addr { return here }, func() time.Time { return now })
	get := func() *tls.Certificate {
		t.Helper()
		c, err := k.Certificate()
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	first := get()
	now = now.Add(time.Minute)
	if get() != first {
		t.Error("a new certificate though nothing changed")
	}
	here = []netip.Addr{netip.MustParseAddr("192.168.1.9")}
	now = now.Add(lookEvery)
	moved := get()
	if err := moved.Leaf.VerifyHostname("192.168.1.9"); err != nil || moved == first {
		t.Errorf("after the laptop joined another network: %v", err)
	}
	now = now.Add(leafLife/2 + time.Hour)
	if renewed := get(); !renewed.Leaf.NotAfter.After(moved.Leaf.NotAfter) {
		t.Error("a program that runs on and on shows an old certificate")
	}
}

func TestPage(t *testing.T) {
	t.Parallel()
	a := newAuthority(t, "hall.test")
	page, err := Page(a, "https://hall.test:4180")
	if err != nil {
		t.Fatal(err)
	}
	get := func(method, path string) *httptest.ResponseRecorder {
		rec := httptest.NewRecorder()
		page.ServeHTTP(rec, httptest.NewRequest(method, path, nil))
		return rec
	}
	rec := get("GET", "/")
	text := rec.Body.String()
	for _, part := range []string{
		a.Subject(), a.Fingerprint()[:47], a.Fingerprint()[48:], `href="/sextant-hall.crt"`, `href="https://hall.test:4180"`, "31 December 2031",
		`id="ipad"`, `id="android"`, `id="chromeos"`, `id="windows"`, "your own lead", "event's rules", "Certificate Trust Settings",
	} {
		if !strings.Contains(text, part) {
			t.Errorf("the page lacks %q", part)
		}
	}
	for _, device := range strings.Split(text, "<details ")[1:5] {
		if !strings.Contains(device, "Remove it:") || !strings.Contains(device, "<svg") {
			t.Errorf("no picture, or not how to remove it, in %.60s", device)
		}
	}
	for _, part := range []string{"<script", "src=", "url(", "ZgotmplZ"} {
		if strings.Contains(text, part) {
			t.Errorf("the page has %q", part)
		}
	}
	if csp := rec.Header().Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") || rec.Header().Get("Strict-Transport-Security") != "" {
		t.Errorf("headers %v", rec.Header())
	}
	cert := get("GET", CertificatePath)
	got, err := x509.ParseCertificate(cert.Body.Bytes())
	if err != nil || !bytes.Equal(got.Raw, a.cert.Raw) || cert.Header().Get("Content-Type") != "application/x-x509-ca-cert" {
		t.Errorf("the certificate: %v, %v", err, cert.Header())
	}
	if rec := get("GET", "/e/x/watch"); rec.Code != http.StatusFound || rec.Header().Get("Location") != "/" {
		t.Errorf("another path: %d to %s", rec.Code, rec.Header().Get("Location"))
	}
	if rec := get("POST", "/"); rec.Code != http.StatusMethodNotAllowed {
		t.Errorf("a POST: %d", rec.Code)
	}
}

func TestOrigin(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"https://Hall.test:4180/": "https://hall.test:4180", "https://hall.test:443": "https://hall.test", "http://hall.test:80/x": "http://hall.test",
		"http://hall.test:443": "http://hall.test:443", "ftp://hall.test": "", "hall.test": "", "": "", "https:///x": "",
	} {
		if got := Origin(in); got != want {
			t.Errorf("Origin(%q) = %q, want %q", in, got, want)
		}
	}
}

func TestElsewhere(t *testing.T) {
	t.Parallel()
	seen := []Seen{
		{"https://old.test:4180", today.Add(-48 * time.Hour)},
		{"https://hall.test:4180", today},
		{"https://hall.test:4190", today.Add(-time.Hour)},
		{"https://last-season.test:4180", today.Add(-200 * 24 * time.Hour)},
	}
	var got []string
	for _, s := range Elsewhere(seen, "https://hall.test:4180", today) {
		got = append(got, s.Origin)
	}
	if diff := cmp.Diff([]string{"https://hall.test:4190", "https://old.test:4180"}, got); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

// TestAnnounce asks for the name, over loopback alone, with the question of
// RFC 6762, section 5, and gets this machine's address.
func TestAnnounce(t *testing.T) {
	t.Parallel()
	list, err := net.Interfaces()
	if err != nil {
		t.Fatal(err)
	}
	at := slices.IndexFunc(list, func(i net.Interface) bool { return i.Flags&net.FlagLoopback != 0 && i.Flags&net.FlagUp != 0 })
	if at < 0 {
		t.Skip("no loopback interface")
	}
	name := "sextant-test-" + strings.ToLower(time.Now().Format("150405.000000000")[7:]) + ".local"
	loopback := list[at : at+1]
	if ip, is := taken(t.Context(), name, loopback, nil); is {
		t.Fatalf("%s answers before anybody announces it", ip)
	}
	conn, err := respond(name, loopback)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	ip, is := taken(t.Context(), name, loopback, nil)
	if !is || !ip.IsLoopback() {
		t.Errorf("the name is at %v, %v", ip, is)
	}
	if _, is := taken(t.Context(), name, loopback, []netip.Addr{ip}); is {
		t.Error("the own address counts as somebody else's")
	}
}

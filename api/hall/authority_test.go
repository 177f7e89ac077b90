package hall

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"math/big"
	"net"
	"net/netip"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

var today = time.Date(2031, 3, 6, 8, 0, 0, 0, time.UTC)

func newAuthority(t *testing.T, name string) *Authority {
	t.Helper()
	a, err := create(name, today)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// sign makes a certificate under an authority, right or wrong: what a thief of
// the key could make.
func sign(t *testing.T, a *Authority, change func(*x509.Certificate)) (*x509.Certificate, *ecdsa.PrivateKey) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(7), Subject: pkix.Name{CommonName: "x"}, NotBefore: today.Add(-time.Hour), NotAfter: today.Add(time.Hour),
		BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	change(template)
	der, err := x509.CreateCertificate(rand.Reader, template, a.cert, key.Public(), a.key)
	if err != nil {
		t.Fatal(err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	return cert, key
}

// verify does what a browser does: a path to the authority that is installed.
func verify(a *Authority, leaf *x509.Certificate, name string, at time.Time, between ...*x509.Certificate) error {
	opt := x509.VerifyOptions{Roots: x509.NewCertPool(), Intermediates: x509.NewCertPool(), DNSName: name, CurrentTime: at}
	opt.Roots.AddCert(a.cert)
	for _, c := range between {
		opt.Intermediates.AddCert(c)
	}
	_, err := leaf.Verify(opt)
	return err
}

func TestIssue(t *testing.T) {
	t.Parallel()
	a := newAuthority(t, "hall.test")
	cert, err := a.Issue([]netip.Addr{netip.MustParseAddr("192.168.7.2"), netip.MustParseAddr("fd00::2"), netip.MustParseAddr("203.0.113.9")}, today)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"hall.test", "192.168.7.2", "[fd00::2]"} {
		if err := verify(a, cert.Leaf, name, today); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	// An address of the internet is left out, or the whole certificate would fail.
	for _, name := range []string{"203.0.113.9", "other.test", "xhall.test"} {
		if err := verify(a, cert.Leaf, name, today); err == nil {
			t.Errorf("%s is vouched for", name)
		}
	}
	// Apple and the browsers ask for serverAuth, a subject alternative name and
	// at most 397 days (the CA/Browser Forum's limit since 2020; from memory).
	if got := cert.Leaf.NotAfter.Sub(cert.Leaf.NotBefore); got > 397*24*time.Hour || cert.Leaf.NotAfter.After(a.Ends()) {
		t.Errorf("it is good for %v, until %s", got, cert.Leaf.NotAfter)
	}
	if err := verify(a, cert.Leaf, "hall.test", cert.Leaf.NotAfter.Add(time.Second)); err == nil {
		t.Error("it is good after its end")
	}
	last, err := a.Issue(nil, a.Ends().Add(-time.Hour))
	if err != nil || last.Leaf.NotAfter.After(a.Ends()) {
		t.Errorf("a certificate of the last hour outlives its authority: %v", err)
	}
}

// TestNameConstraints has certificates that a thief of the key could make. Each
// must be refused, by RFC 5280, section 4.2.1.10 (names outside the permitted
// ones), 4.2.1.9 (path length) and 4.2.1.12 (purposes).
func TestNameConstraints(t *testing.T) {
	t.Parallel()
	a := newAuthority(t, "hall.test")
	for _, e := range a.cert.Extensions {
		// id-ce-nameConstraints is 2.5.29.30; "conforming CAs MUST mark this extension as critical".
		if e.Id.String() == "2.5.29.30" && !e.Critical {
			t.Error("a program that does not know name constraints would ignore them")
		}
	}
	good, _ := sign(t, a, func(c *x509.Certificate) { c.DNSNames = []string{"hall.test"} })
	if err := verify(a, good, "hall.test", today); err != nil {
		t.Fatalf("the right name: %v", err)
	}
	tests := map[string]struct {
		name   string
		reason x509.InvalidReason
		change func(*x509.Certificate)
	}{
		"AnotherName":     {"bank.example", x509.CANotAuthorizedForThisName, func(c *x509.Certificate) { c.DNSNames = []string{"bank.example"} }},
		"NameBesideOurs":  {"bank.example", x509.CANotAuthorizedForThisName, func(c *x509.Certificate) { c.DNSNames = []string{"hall.test", "bank.example"} }},
		"PublicAddress":   {"203.0.113.9", x509.CANotAuthorizedForThisName, func(c *x509.Certificate) { c.IPAddresses = []net.IP{net.ParseIP("203.0.113.9")} }},
		"JustOutside":     {"172.32.0.1", x509.CANotAuthorizedForThisName, func(c *x509.Certificate) { c.IPAddresses = []net.IP{net.ParseIP("172.32.0.1")} }},
		"PublicAddressV6": {"[2001:db8::1]", x509.CANotAuthorizedForThisName, func(c *x509.Certificate) { c.IPAddresses = []net.IP{net.ParseIP("2001:db8::1")} }},
		"EndOfOurName":    {"evilhall.test", x509.CANotAuthorizedForThisName, func(c *x509.Certificate) { c.DNSNames = []string{"evilhall.test"} }},
		"OnlyCommonName":  {"bank.example", 0, func(c *x509.Certificate) { c.Subject.CommonName = "bank.example" }},
		"NotAServer":      {"", x509.IncompatibleUsage, func(c *x509.Certificate) { c.ExtKeyUsage = []x509.ExtKeyUsage{x509.ExtKeyUsageEmailProtection} }},
		"NameOfAnotherURI": {"", 0, func(c *x509.Certificate) {
			c.URIs = []*url.URL{{Scheme: "spiffe", Host: "bank.example"}}
			c.ExtKeyUsage = []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth}
		}},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			cert, _ := sign(t, a, tt.change)
			err := verify(a, cert, tt.name, today)
			var invalid x509.CertificateInvalidError
			if err == nil || tt.reason != 0 && (!errors.As(err, &invalid) || invalid.Reason != tt.reason) {
				t.Errorf("got %v, want reason %d", err, tt.reason)
			}
		})
	}
	t.Run("AuthorityBelow", func(t *testing.T) {
		t.Parallel()
		below, key := sign(t, a, func(c *x509.Certificate) { c.IsCA, c.KeyUsage = true, x509.KeyUsageCertSign })
		cert, _ := sign(t, &Authority{cert: below, key: key}, func(c *x509.Certificate) { c.DNSNames = []string{"hall.test"} })
		if err := verify(a, cert, "hall.test", today, below); err == nil {
			t.Error("an authority below ours is taken")
		}
	})
}

// TestOpenSSLAgrees asks a program that is not Go.
func TestOpenSSLAgrees(t *testing.T) {
	t.Parallel()
	openssl, err := exec.LookPath("openssl")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("install openssl")
		}
		t.Skip("openssl is not installed")
	}
	now := time.Now()
	a, err := create("hall.test", now)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	write := func(name string, der []byte) string {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	ca := write("ca.pem", a.DER())
	ours, err := a.Issue([]netip.Addr{netip.MustParseAddr("10.1.2.3")}, now)
	if err != nil {
		t.Fatal(err)
	}
	stolen, _ := sign(t, a, func(c *x509.Certificate) {
		c.DNSNames, c.NotBefore, c.NotAfter = []string{"bank.example"}, now.Add(-time.Hour), now.Add(time.Hour)
	})
	check := func(file string) string {
		out, _ := exec.Command(openssl, "verify", "-x509_strict", "-purpose", "sslserver", "-CAfile", ca, file).CombinedOutput()
		return string(out)
	}
	if out := check(write("ours.pem", ours.Certificate[0])); !strings.Contains(out, ": OK") {
		t.Errorf("ours: %s", out)
	}
	if out := check(write("stolen.pem", stolen.Raw)); !strings.Contains(out, "permitted subtree violation") {
		t.Errorf("a stolen one: %s", out)
	}
	out, err := exec.Command(openssl, "x509", "-in", ca, "-noout", "-fingerprint", "-sha256").Output()
	if err != nil || !strings.HasSuffix(strings.TrimSpace(string(out)), "="+a.Fingerprint()) {
		t.Errorf("fingerprint %s, openssl says %s (%v)", a.Fingerprint(), out, err)
	}
}

func TestOpen(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "hall", "authority.pem")
	open := func(name string, at time.Time, want Made) *Authority {
		t.Helper()
		a, made, err := Open(file, name, at)
		if err != nil || made != want {
			t.Fatalf("made %q, want %q (%v)", made, want, err)
		}
		return a
	}
	first := open("hall.test", today, First)
	info, err := os.Stat(file)
	if err != nil || info.Mode().Perm() != 0o600 && runtime.GOOS != "windows" {
		t.Errorf("the key's file: %v, %v", info.Mode(), err)
	}
	if got := first.Ends().Sub(today); got > 310*24*time.Hour || got < 200*24*time.Hour {
		t.Errorf("an authority lasts %v; it should end with the season", got)
	}
	if again := open("hall.test", today.Add(100*24*time.Hour), Kept); again.Fingerprint() != first.Fingerprint() || !again.key.Equal(first.key) {
		t.Error("the next start has another authority")
	}
	other := open("other.test", today, Renamed)
	if other.Fingerprint() == first.Fingerprint() || other.Name() != "other.test" {
		t.Error("another name has the same authority")
	}
	if ended := open("other.test", other.Ends().Add(-24*time.Hour), Ended); ended.Fingerprint() == other.Fingerprint() {
		t.Error("an authority that ends tomorrow is used on")
	}

	if runtime.GOOS != "windows" {
		if err := os.Chmod(file, 0o644); err != nil {
			t.Fatal(err)
		}
		if _, _, err := Open(file, "other.test", today); !errors.Is(err, ErrOpenKey) {
			t.Errorf("a key that others can read: %v", err)
		}
	}
	before := []byte("-----BEGIN NOTHING-----\n")
	if err := os.WriteFile(file, before, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, err := Open(file, "other.test", today); err == nil || !strings.Contains(err.Error(), "move it away") {
		t.Errorf("a damaged file: %v", err)
	}
	if after, err := os.ReadFile(file); err != nil || string(after) != string(before) {
		t.Errorf("a damaged file was written over: %v", err)
	}
}

func FuzzParse(f *testing.F) {
	a, err := create("hall.test", today)
	if err != nil {
		f.Fatal(err)
	}
	file := filepath.Join(f.TempDir(), "a.pem")
	if err := a.save(file); err != nil {
		f.Fatal(err)
	}
	whole, err := os.ReadFile(file)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Add([]byte(strings.ReplaceAll(string(whole), "PRIVATE", "PUBLIC")))
	f.Fuzz(func(t *testing.T, text []byte) {
		a, err := parse(text)
		if err != nil {
			return
		}
		if _, err := a.Issue(nil, today); err != nil {
			t.Errorf("an authority that was read cannot sign: %v", err)
		}
	})
}

func TestCheckName(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"sextant.local": "sextant.local", " Sextant.Local. ": "sextant.local", "scout.team-905.example": "scout.team-905.example",
		"192.168.1.2": "", "fe80::1": "", "localhost": "", "": "", ".": "", "a..b": "", "-a.local": "", "a-.local": "", "a_b.local": "",
		"ä.local": "", "a.1": "", "a b.local": "", "https://a.local": "", "a.local:4180": "",
		strings.Repeat("a", 64) + ".local": "", strings.Repeat("a.", 130) + "local": "",
	} {
		got, err := CheckName(in)
		if (err == nil) != (want != "") || got != want {
			t.Errorf("CheckName(%q) = %q, %v; want %q", in, got, err, want)
		}
	}
}

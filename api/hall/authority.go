package hall

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"
)

const (
	// life is how long an authority is good for: a season, and never until the
	// next one.
	life = 300 * 24 * time.Hour
	// short is how much must be left at a start: no event lasts longer.
	short = 4 * 24 * time.Hour
	// leafLife is how long a server certificate is good for. Browsers take at
	// most 397 days; it is made anew at each start and when it is half over.
	leafLife = 30 * 24 * time.Hour
	// early is how far back certificates reach, for clocks that are slow.
	early = 24 * time.Hour
)

// private are the addresses that an authority may vouch for: private ones
// (RFC 1918, RFC 4193), link-local ones (RFC 3927, RFC 4291) and this machine.
var private = []netip.Prefix{
	netip.MustParsePrefix("10.0.0.0/8"),
	netip.MustParsePrefix("172.16.0.0/12"),
	netip.MustParsePrefix("192.168.0.0/16"),
	netip.MustParsePrefix("169.254.0.0/16"),
	netip.MustParsePrefix("127.0.0.0/8"),
	netip.MustParsePrefix("fc00::/7"),
	netip.MustParsePrefix("fe80::/10"),
	netip.MustParsePrefix("::1/128"),
}

// Authority signs the server's certificates. Its own certificate is what
// tablets install: critical name constraints hold it to one name and to private
// addresses (RFC 5280, section 4.2.1.10), so that it cannot be used against
// anything else that the tablet opens, not even by a thief of the key.
type Authority struct {
	name string
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

// Made says why Open made a new authority.
type Made string

// The reasons. Tablets that installed the one before must install the new one.
const (
	Kept    Made = ""        // it was there
	First   Made = "first"   // there was none
	Renamed Made = "renamed" // the one that was there is for another name
	Ended   Made = "ended"   // the one that was there has ended, or will within days
)

// ErrOpenKey says that others of this machine could read the key.
var ErrOpenKey = errors.New("other users of this machine can read the authority's key")

// Open reads the authority of a name from a file, or makes it. The file holds
// certificate and key and is readable by its owner only; a new one replaces the
// old one for good. It never leaves the machine, save in a back-up.
func Open(file, name string, now time.Time) (*Authority, Made, error) {
	why := First
	text, err := os.ReadFile(file)
	switch {
	case err == nil:
		a, err := parse(text)
		if err != nil {
			return nil, Kept, fmt.Errorf("%s: %w; move it away to have a new one made", file, err)
		}
		info, err := os.Stat(file)
		if err != nil {
			return nil, Kept, err
		}
		if open := info.Mode().Perm() & 0o077; open != 0 && runtime.GOOS != "windows" {
			return nil, Kept, fmt.Errorf("%w: delete %s to have a new one made, or run chmod 600 on it if you trust them", ErrOpenKey, file)
		}
		switch {
		case a.name != name:
			why = Renamed
		case now.Add(short).After(a.cert.NotAfter):
			why = Ended
		default:
			return a, Kept, nil
		}
	case !errors.Is(err, fs.ErrNotExist):
		return nil, Kept, err
	}
	a, err := create(name, now)
	if err != nil {
		return nil, Kept, err
	}
	return a, why, a.save(file)
}

// create makes an authority of a checked name.
func create(name string, now time.Time) (*Authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := serialNumber()
	if err != nil {
		return nil, err
	}
	var ranges []*net.IPNet
	for _, p := range private {
		ranges = append(ranges, &net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())})
	}
	template := &x509.Certificate{
		SerialNumber: serial,
		// People look for this text when they want to remove it.
		Subject:               pkix.Name{CommonName: fmt.Sprintf("Sextant %s until %s", name, now.Add(life).UTC().Format("2006-01-02"))},
		NotBefore:             now.Add(-early),
		NotAfter:              now.Add(life),
		BasicConstraintsValid: true,
		IsCA:                  true,
		MaxPathLenZero:        true, // it signs servers, never another authority
		KeyUsage:              x509.KeyUsageCertSign,
		// Name constraints say nothing of names of other kinds, such as those of
		// mail; so it is good for servers only.
		ExtKeyUsage:                 []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         []string{name},
		PermittedIPRanges:           ranges,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return nil, err
	}
	cert, err := x509.ParseCertificate(der)
	return &Authority{name: name, cert: cert, key: key}, err
}

// serialNumber has more than 64 random bits, as certificate programs ask.
func serialNumber() (*big.Int, error) {
	return rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
}

func parse(text []byte) (*Authority, error) {
	a := &Authority{}
	for block, rest := pem.Decode(text); block != nil; block, rest = pem.Decode(rest) {
		var err error
		switch block.Type {
		case "CERTIFICATE":
			a.cert, err = x509.ParseCertificate(block.Bytes)
		case "PRIVATE KEY":
			var key any
			if key, err = x509.ParsePKCS8PrivateKey(block.Bytes); err == nil {
				a.key, _ = key.(*ecdsa.PrivateKey)
			}
		}
		if err != nil {
			return nil, fmt.Errorf("not an authority of Sextant: %w", err)
		}
	}
	if a.cert == nil || a.key == nil || !a.cert.IsCA || len(a.cert.PermittedDNSDomains) != 1 || !a.key.PublicKey.Equal(a.cert.PublicKey) {
		return nil, errors.New("not an authority of Sextant: it needs a certificate for one name and its key")
	}
	a.name = a.cert.PermittedDNSDomains[0]
	return a, nil
}

// save writes the file beside its place and moves it there.
func (a *Authority) save(file string) error {
	key, err := x509.MarshalPKCS8PrivateKey(a.key)
	if err != nil {
		return err
	}
	var text bytes.Buffer
	for _, block := range []*pem.Block{{Type: "CERTIFICATE", Bytes: a.cert.Raw}, {Type: "PRIVATE KEY", Bytes: key}} {
		if err := pem.Encode(&text, block); err != nil {
			return err
		}
	}
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(file), ".authority-*") // 0600
	if err != nil {
		return err
	}
	_, err = f.Write(text.Bytes())
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return os.Rename(f.Name(), file)
}

// Name is the name that it vouches for.
func (a *Authority) Name() string { return a.name }

// Subject is what a device lists it as.
func (a *Authority) Subject() string { return a.cert.Subject.CommonName }

// DER is its certificate, for tablets.
func (a *Authority) DER() []byte { return slices.Clone(a.cert.Raw) }

// Ends is when it ends.
func (a *Authority) Ends() time.Time { return a.cert.NotAfter }

// Fingerprint is the SHA-256 of the certificate, as devices show it.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	parts := make([]string, len(sum))
	for i, b := range sum {
		parts[i] = strings.ToUpper(hex.EncodeToString([]byte{b}))
	}
	return strings.Join(parts, ":")
}

// Issue makes a server certificate for the name and those of the addresses
// that are private.
func (a *Authority) Issue(addresses []netip.Addr, now time.Time) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := serialNumber()
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{
		SerialNumber:          serial,
		Subject:               pkix.Name{CommonName: a.name},
		DNSNames:              []string{a.name},
		NotBefore:             latest(now.Add(-early), a.cert.NotBefore),
		NotAfter:              earliest(now.Add(leafLife), a.cert.NotAfter),
		BasicConstraintsValid: true,
		KeyUsage:              x509.KeyUsageDigitalSignature,
		ExtKeyUsage:           []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	for _, ip := range addresses {
		if isPrivate(ip) {
			template.IPAddresses = append(template.IPAddresses, ip.Unmap().AsSlice())
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.cert, key.Public(), a.key)
	if err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	return &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: leaf}, nil
}

func isPrivate(ip netip.Addr) bool {
	return slices.ContainsFunc(private, func(p netip.Prefix) bool { return p.Contains(ip.Unmap()) })
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earliest(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

package api

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/x509"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The values are those of HKDF (RFC 5869) in Python's cryptography 48.0.0:
// HKDF(SHA256, length=32, salt=None, info=b"sextant carry 1 …").derive(bytes(range(32))).
func TestCarryKey(t *testing.T) {
	t.Parallel()
	secret := make([]byte, 32)
	for i := range secret {
		secret[i] = byte(i)
	}
	for audience, want := range map[string]string{
		"all":   "4228047098de4a209beeb7b4a526e866075e9ef2cd68f0e6a111845a2c94b3fc",
		"staff": "0b22e720bab5d2826915ba66bf553f500fb45ad833bee0e7e5aeee7429df56b4",
	} {
		got, err := carryKey(secret, audience)
		if err != nil || hex.EncodeToString(got) != want {
			t.Errorf("%s: %x, %v, want %s", audience, got, err, want)
		}
	}
}

// The value is that of Python's cryptography 48.0.0: the 48 bytes of its HKDF with
// info=b"sextant carry 1 sign", modulo n-1, plus 1, given to ec.derive_private_key.
func TestCarrySigner(t *testing.T) {
	t.Parallel()
	secret := make([]byte, 32)
	for i := range secret {
		secret[i] = byte(i)
	}
	signer, err := carrySigner(secret)
	if err != nil {
		t.Fatal(err)
	}
	got, err := x509.MarshalPKIXPublicKey(signer.Public())
	const want = "3059301306072a8648ce3d020106082a8648ce3d03010703420004679e9d812d14b5654f133884b982d49053d5d4" +
		"c8cd6b227e9db59105c04cc706cf97994cc0170a3683786bc51a5a3d24e56cd15174a4cc4e05539028ff366932"
	if err != nil || hex.EncodeToString(got) != want {
		t.Errorf("%x, %v, want %s", got, err, want)
	}
}

// TestKeys: everybody in an event has the same key, a scout not that of the
// staff, another event has other ones, and no other answer holds any.
func TestKeys(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 2)
	keys := func(c *client) (k keysView) {
		t.Helper()
		c.get(".keys").want(200, &k)
		return k
	}
	own := keys(lead)
	if len(own.All) != 32 || len(own.Staff) != 32 || bytes.Equal(own.All, own.Staff) {
		t.Fatalf("the lead's keys: %x and %x, want two of 32 bytes", own.All, own.Staff)
	}
	private, err := x509.ParsePKCS8PrivateKey(own.Sign)
	if err != nil {
		t.Fatal(err)
	}
	public, err := x509.ParsePKIXPublicKey(own.Check)
	if err != nil || !private.(*ecdsa.PrivateKey).PublicKey.Equal(public) {
		t.Errorf("what a lead signs is not what the others check: %v", err)
	}
	want := keysView{All: own.All, Staff: own.Staff, Check: own.Check}
	if diff := cmp.Diff(want, keys(lead.join("coach", "cy"))); diff != "" {
		t.Errorf("the coach's keys (-want +got):\n%s", diff)
	}
	scout := lead.join("scout", "s1")
	if diff := cmp.Diff(keysView{All: own.All, Check: own.Check}, keys(scout)); diff != "" {
		t.Errorf("the scout's keys (-want +got):\n%s", diff)
	}
	var other eventView
	lead.send("POST", "/api/events", map[string]any{"name": "Elsewhere", "zone": "UTC", "game": json.RawMessage(gameFile(t))}).want(201, &other)
	elsewhere := *lead
	elsewhere.event = other.EventID
	if k := keys(&elsewhere); bytes.Equal(k.All, own.All) || bytes.Equal(k.Staff, own.Staff) || bytes.Equal(k.Check, own.Check) {
		t.Error("two events have the same keys")
	}

	secret, err := f.db.CarryKey(t.Context(), lead.event)
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{".", ".sync?after=0", ".export?form=ndjson", "/api/session"} {
		said := lead.get(path).want(200).body
		for name, key := range map[string][]byte{"secret": secret, "all": own.All, "staff": own.Staff, "sign": own.Sign} {
			if bytes.Contains(said, []byte(base64.StdEncoding.EncodeToString(key))) || bytes.Contains(said, []byte(hex.EncodeToString(key))) {
				t.Errorf("%s gives away %s", path, name)
			}
		}
	}
}

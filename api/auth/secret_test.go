package auth

import (
	"bytes"
	"regexp"
	"testing"
)

func TestNewCode(t *testing.T) {
	t.Parallel()
	form := regexp.MustCompile(`^[2-9A-HJKMNP-Z]{4}-[2-9A-HJKMNP-Z]{4}$`)
	const n = 4000
	seen := map[string]bool{}
	signs := map[rune]int{}
	for range n {
		c := NewCode()
		if !form.MatchString(c) {
			t.Fatalf("code %q has another form", c)
		}
		seen[c] = true
		for _, r := range c {
			signs[r]++
		}
	}
	if len(seen) != n {
		t.Errorf("%d different codes in %d", len(seen), n)
	}
	// Each sign is expected n*8/31 times; six standard deviations.
	want := float64(n) * codeLength / float64(len(codeAlphabet))
	for _, r := range codeAlphabet {
		if d := float64(signs[r]) - want; d*d > 36*want {
			t.Errorf("sign %c came %d times, want about %.0f", r, signs[r], want)
		}
	}
}

func TestHashCodeForgivesTyping(t *testing.T) {
	t.Parallel()
	want := HashCode("7K3M-Q2XD")
	for _, s := range []string{"7k3mq2xd", " 7K3M Q2XD ", "7k3m–q2xd"} {
		if !bytes.Equal(HashCode(s), want) {
			t.Errorf("%q is taken for another code", s)
		}
	}
	if bytes.Equal(HashCode("7K3M-Q2XE"), want) || bytes.Equal(HashToken("7K3MQ2XD"), want) {
		t.Error("another code or a token has the same hash")
	}
}

func TestNewToken(t *testing.T) {
	t.Parallel()
	a, b := NewToken(), NewToken()
	if a == b || !regexp.MustCompile(`^[A-Z2-7]{52}$`).MatchString(a) {
		t.Errorf("tokens %q and %q", a, b)
	}
}

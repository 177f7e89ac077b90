package auth

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"
)

// The encoded hashes come from the reference implementation by the authors of
// RFC 9106 (Debian 12, package argon2 0~20171227-0.3+deb12u1):
//
//	printf 'correct horse battery' | argon2 sixteen-byte-slt -id -t 3 -k 65536 -p 4 -l 32 -e
//	printf 'correct horse battery' | argon2 sixteen-byte-slt -id -t 2 -m 16 -p 1 -l 32 -e
//
// The vector of RFC 9106, section 5.3, has a secret and associated data, which
// no exported function of x/crypto/argon2 takes.
const (
	referenceHash = "$argon2id$v=19$m=65536,t=3,p=4$c2l4dGVlbi1ieXRlLXNsdA$f1RB/yAI2SkC05Ci2VP3Z3d7M2LPxAmTzRN7AsEV178"
	weakerHash    = "$argon2id$v=19$m=65536,t=2,p=1$c2l4dGVlbi1ieXRlLXNsdA$nMEZ20Uqlcmm/vDTqBR/Lg09UEIijb1ewW8Uhp4O7TE"
	password      = "correct horse battery"
)

func TestCheckPassword(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, password, hash string
		ok, renew            bool
	}{
		{"ReferenceHash", password, referenceHash, true, false},
		{"WeakerParameters", password, weakerHash, true, true},
		{"Wrong", "incorrect horse battery", referenceHash, false, false},
		{"WrongIsNotRenewed", "incorrect horse battery", weakerHash, false, false},
		{"UnknownName", password, "", false, false},
		{"TooLong", strings.Repeat("x", MaxPassword+1), referenceHash, false, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			ok, renew, err := CheckPassword(t.Context(), tt.password, tt.hash)
			if err != nil || ok != tt.ok || renew != tt.renew {
				t.Errorf("CheckPassword = %v, %v, %v; want %v, %v", ok, renew, err, tt.ok, tt.renew)
			}
		})
	}
}

func TestHashPassword(t *testing.T) {
	t.Parallel()
	hash, err := HashPassword(t.Context(), password)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(hash, "$argon2id$v=19$m=65536,t=3,p=4$") {
		t.Errorf("hash %q does not have the second recommended parameters of RFC 9106", hash)
	}
	if ok, renew, err := CheckPassword(t.Context(), password, hash); !ok || renew || err != nil {
		t.Errorf("CheckPassword of a fresh hash = %v, %v, %v", ok, renew, err)
	}
	again, err := HashPassword(t.Context(), password)
	if err != nil || again == hash {
		t.Errorf("the same password hashed twice gives %q twice (%v): no salt", hash, err)
	}
}

func TestHashPasswordRefuses(t *testing.T) {
	t.Parallel()
	for _, p := range []string{"", "ninechars", strings.Repeat("x", MaxPassword+1)} {
		if _, err := HashPassword(t.Context(), p); !errors.Is(err, ErrPassword) {
			t.Errorf("HashPassword of %d characters: %v, want ErrPassword", len(p), err)
		}
	}
}

func TestCheckPasswordRefusesForeignHash(t *testing.T) {
	t.Parallel()
	for _, h := range []string{"x", "$2a$10$abc", "$argon2i$v=19$m=8,t=1,p=1$AAAA$AAAA", "$argon2id$v=19$m=8,t=0,p=1$AAAA$AAAAAAAAAAAAAAAAAAAAAAAA", "$argon2id$v=19$m=8,t=1,p=1$AAAA$"} {
		if ok, _, err := CheckPassword(t.Context(), password, h); ok || err == nil {
			t.Errorf("CheckPassword against %q: %v, %v; want an error", h, ok, err)
		}
	}
}

// An unknown name must cost what a known one costs; a factor of four leaves
// room for a busy machine and is far below the thousandfold of not hashing.
func TestUnknownNameTakesAsLong(t *testing.T) {
	took := func(hash string) time.Duration {
		start := time.Now()
		if _, _, err := CheckPassword(t.Context(), "wrong password", hash); err != nil {
			t.Fatal(err)
		}
		return time.Since(start)
	}
	known, unknown := took(referenceHash), took("")
	if unknown < known/4 {
		t.Errorf("an unknown name is answered in %v, a known one in %v", unknown, known)
	}
}

func TestHashPasswordWaitsForItsTurn(t *testing.T) {
	for range cap(atOnce) {
		atOnce <- struct{}{}
	}
	defer func() {
		for range cap(atOnce) {
			<-atOnce
		}
	}()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := HashPassword(ctx, password); !errors.Is(err, context.Canceled) {
		t.Errorf("a third computation did not wait: %v", err)
	}
}

package auth

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
)

// The second recommended parameters of RFC 9106, section 4: 3 passes, 64 MiB,
// 4 lanes, a salt of 128 and a tag of 256 bits.
const (
	argonPasses  = 3
	argonMemory  = 64 * 1024 // KiB
	argonLanes   = 4
	argonSaltLen = 16
	argonTagLen  = 32
)

// MinPassword and MaxPassword bound a password, in characters and in bytes.
// There are no rules about its composition (NIST SP 800-63B, 5.1.1, which
// allows 8; from memory).
const (
	MinPassword = 10
	MaxPassword = 1000
)

// ErrPassword says that a password is too short or too long.
var ErrPassword = fmt.Errorf("a password has at least %d characters and at most %d bytes", MinPassword, MaxPassword)

// atOnce lets two computations run at the same time: each takes 64 MiB and a
// few hundred milliseconds of a small machine.
var atOnce = make(chan struct{}, 2)

// nobodysPassword is compared against when the name is not known, so that the
// answer takes the same time. No password has this tag.
var nobodysPassword = encode(argonPasses, argonMemory, argonLanes, make([]byte, argonSaltLen), make([]byte, argonTagLen))

// HashPassword returns the encoded argon2id hash of a password, with its
// parameters in it, so that stronger ones can follow. Its errors are
// ErrPassword and the end of ctx. At most two run at once.
func HashPassword(ctx context.Context, password string) (string, error) {
	if utf8.RuneCountInString(password) < MinPassword || len(password) > MaxPassword {
		return "", ErrPassword
	}
	salt := make([]byte, argonSaltLen)
	rand.Read(salt) // never fails: see crypto/rand
	tag, err := derive(ctx, password, salt, argonPasses, argonMemory, argonLanes, argonTagLen)
	if err != nil {
		return "", err
	}
	return encode(argonPasses, argonMemory, argonLanes, salt, tag), nil
}

// CheckPassword reports whether password belongs to the encoded hash, and
// whether the hash is worth renewing because its parameters are not today's.
// An empty hash stands for a name that is not known: the answer is no, and
// takes as long. Its errors are a hash that is not ours and the end of ctx.
func CheckPassword(ctx context.Context, password, encoded string) (ok, renew bool, err error) {
	known := encoded != ""
	if !known {
		encoded = nobodysPassword
	}
	passes, memory, lanes, salt, tag, err := decode(encoded)
	if err != nil {
		return false, false, err
	}
	if len(password) > MaxPassword {
		password = "" // no password is this long; spend the time all the same
	}
	got, err := derive(ctx, password, salt, passes, memory, lanes, len(tag))
	if err != nil {
		return false, false, err
	}
	ok = subtle.ConstantTimeCompare(got, tag) == 1 && known
	renew = ok && (passes != argonPasses || memory != argonMemory || lanes != argonLanes)
	return ok, renew, nil
}

func derive(ctx context.Context, password string, salt []byte, passes, memory uint32, lanes uint8, length int) ([]byte, error) {
	select {
	case atOnce <- struct{}{}:
		defer func() { <-atOnce }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	return argon2.IDKey([]byte(password), salt, passes, memory, lanes, uint32(length)), nil
}

// encode writes the form that the reference implementation of argon2 prints.
func encode(passes, memory uint32, lanes uint8, salt, tag []byte) string {
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s",
		argon2.Version, memory, passes, lanes, b64.EncodeToString(salt), b64.EncodeToString(tag))
}

var errHash = errors.New("a stored password hash cannot be read; set a new password with: sextant account")

func decode(encoded string) (passes, memory uint32, lanes uint8, salt, tag []byte, err error) {
	parts := strings.Split(encoded, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return 0, 0, 0, nil, nil, errHash
	}
	if _, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &memory, &passes, &lanes); err != nil {
		return 0, 0, 0, nil, nil, errHash
	}
	b64 := base64.RawStdEncoding.Strict()
	salt, errSalt := b64.DecodeString(parts[4])
	tag, errTag := b64.DecodeString(parts[5])
	if errSalt != nil || errTag != nil || passes < 1 || lanes < 1 || len(tag) < 16 {
		return 0, 0, 0, nil, nil, errHash
	}
	return passes, memory, lanes, salt, tag, nil
}

package auth

import (
	"crypto/rand"
	"crypto/sha256"
	"strings"
)

// codeAlphabet has 31 signs that are told apart in print and by voice: no 0
// and O, no 1, I and L.
const codeAlphabet = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"

// codeLength signs of the alphabet make 31^8 = 8.5e11 codes, 39.6 bits. Guesses
// are limited to two a second for the whole server (see Limiter), at most
// 2.4 million in the longest life of a code, two weeks: a chance of 3 in a
// million per code that is open all that time.
const codeLength = 8

// NewToken returns a secret of at least 256 bits in 52 characters that are safe in a
// cookie and in the fragment of a URL.
func NewToken() string {
	return rand.Text() + rand.Text()
}

// NewCode returns a join code, such as "7K3M-Q2XD".
func NewCode() string {
	// Bytes from the highest multiple of the alphabet's length on are thrown
	// away, so that all signs are equally likely.
	limit := byte(256 / len(codeAlphabet) * len(codeAlphabet))
	code := make([]byte, 0, codeLength+1)
	for b := make([]byte, 1); len(code) < codeLength+1; {
		if len(code) == codeLength/2 {
			code = append(code, '-')
		}
		if rand.Read(b); b[0] < limit {
			code = append(code, codeAlphabet[int(b[0])%len(codeAlphabet)])
		}
	}
	return string(code)
}

// HashToken returns the form in which a token is stored. Tokens are random
// enough that a plain SHA-256 does not give them away.
func HashToken(token string) []byte {
	sum := sha256.Sum256([]byte(token))
	return sum[:]
}

// HashCode returns the form in which a join code is stored: what a person may
// type differently (case, spaces, hyphens) is taken out first. Who reads the
// database can find a code by trying all of them; codes end, and whoever reads
// the database has the event's data already.
func HashCode(code string) []byte {
	plain := strings.Map(func(r rune) rune {
		switch r {
		case ' ', '-', '\t', '\u00a0', '\u2010', '\u2011', '\u2013':
			return -1
		}
		return r
	}, strings.ToUpper(code))
	return HashToken("code:" + plain)
}

package api

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/hkdf"
	"crypto/sha256"
	"crypto/x509"
	"math/big"

	"sextant/api/auth"
)

// keysView has the keys with which devices of an event seal what they show on
// a screen or save as a file; see frontend/src/lib/carry/format.md.
type keysView struct {
	All   []byte `json:"all" doc:"32 bytes for AES-256-GCM: what everybody in the event may open"`
	Staff []byte `json:"staff,omitempty" doc:"32 bytes: what lead and coach alone may open; a scout does not get it"`
	Check []byte `json:"check" doc:"Public key (ECDSA, P-256; SubjectPublicKeyInfo, DER): checks that a lead's device gave something out"`
	Sign  []byte `json:"sign,omitempty" doc:"The private key of it (PKCS 8, DER): only a lead gets it"`
}

type keysOutput struct {
	CacheControl string `header:"Cache-Control"`
	Body         keysView
}

// getKeys derives the keys of the caller's role from the event's, so that
// neither follows from the other (HKDF, RFC 5869).
func (s *Server) getKeys(ctx context.Context, in *EventPath) (*keysOutput, error) {
	secret, err := s.opt.Store.CarryKey(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	signer, err := carrySigner(secret)
	if err != nil {
		return nil, err
	}
	out := &keysOutput{CacheControl: "no-store"}
	if out.Body.Check, err = x509.MarshalPKIXPublicKey(signer.Public()); err != nil {
		return nil, err
	}
	if out.Body.All, err = carryKey(secret, "all"); err != nil || viewerOf(ctx).is(auth.Scout) {
		return out, err
	}
	if out.Body.Staff, err = carryKey(secret, "staff"); err != nil || !viewerOf(ctx).is(auth.Lead) {
		return out, err
	}
	out.Body.Sign, err = x509.MarshalPKCS8PrivateKey(signer)
	return out, err
}

// carryKey is the key of one audience.
func carryKey(secret []byte, audience string) ([]byte, error) {
	return hkdf.Key(sha256.New, secret, nil, "sextant carry 1 "+audience, 32)
}

// carrySigner is the key with which leads sign what they give out: each scout
// has the key of everybody, so that alone says nothing of who sealed it. Its
// number comes from 48 bytes of HKDF (FIPS 186-5, A.2.1: extra random bits).
func carrySigner(secret []byte) (*ecdsa.PrivateKey, error) {
	bits, err := hkdf.Key(sha256.New, secret, nil, "sextant carry 1 sign", 48)
	if err != nil {
		return nil, err
	}
	one := big.NewInt(1)
	d := new(big.Int).SetBytes(bits)
	d.Mod(d, new(big.Int).Sub(elliptic.P256().Params().N, one)).Add(d, one)
	return ecdsa.ParseRawPrivateKey(elliptic.P256(), d.FillBytes(make([]byte, 32)))
}

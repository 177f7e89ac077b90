package api

import (
	"context"
	"crypto/hkdf"
	"crypto/sha256"

	"sextant/api/auth"
)

// keysView has the keys with which devices of an event seal what they show on
// a screen or save as a file; see frontend/src/lib/carry/format.md.
type keysView struct {
	All   []byte `json:"all" doc:"32 bytes for AES-256-GCM: what everybody in the event may open"`
	Staff []byte `json:"staff,omitempty" doc:"32 bytes: what lead and coach alone may open; a scout does not get it"`
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
	out := &keysOutput{CacheControl: "no-store"}
	if out.Body.All, err = carryKey(secret, "all"); err != nil || viewerOf(ctx).is(auth.Scout) {
		return out, err
	}
	out.Body.Staff, err = carryKey(secret, "staff")
	return out, err
}

// carryKey is the key of one audience.
func carryKey(secret []byte, audience string) ([]byte, error) {
	return hkdf.Key(sha256.New, secret, nil, "sextant carry 1 "+audience, 32)
}

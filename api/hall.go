package api

import (
	"context"
	"fmt"
	"time"

	"sextant/api/hall"
)

// Hall tells a lead where tablets learn to trust the server.
type Hall struct {
	Page        string    `json:"page" doc:"Address of the page that explains it, over plain HTTP"`
	Fingerprint string    `json:"fingerprint" doc:"SHA-256 of the authority's certificate, to compare with what a tablet shows"`
	Ends        time.Time `json:"ends" doc:"When the authority ends and tablets need a new one"`
}

// Warning is something about the server that a lead should know.
type Warning struct {
	Code    string `json:"code" doc:"kept_apart, moved, disk_low, backup_failed or certificate_ends; more may come"`
	Message string `json:"message" doc:"What is so, what is safe, and what to do"`
}

// warnings are those of the machine.
func (s *Server) warnings() []Warning {
	if s.opt.Warnings == nil {
		return nil
	}
	return s.opt.Warnings()
}

// allWarnings are those of the machine and of other addresses.
func (s *Server) allWarnings(ctx context.Context) ([]Warning, error) {
	moved, err := s.Elsewhere(ctx)
	if err != nil {
		return nil, err
	}
	out := s.warnings()
	for _, m := range moved {
		out = append(out, Warning{Code: "moved", Message: fmt.Sprintf(
			"Tablets worked with this server at %s until %s; now it is at %s. What they have not sent stays at the old address: "+
				"start the server with the old name and port again, or take their records over by file.",
			m.Origin, m.Last.UTC().Format("2 January 2006 15:04 MST"), s.origin)})
	}
	return out, nil
}

// originSetting begins the settings that say when tablets were at an origin.
const originSetting = "origin:"

// noteEvery is how often that is written down at most.
const noteEvery = time.Hour

// noteOrigin remembers that a tablet works with the server at its present
// address. It is no reason to fail the request.
func (s *Server) noteOrigin(ctx context.Context) {
	now := s.opt.Now()
	before := s.noted.Load()
	if s.origin == "" || now.Sub(time.Unix(before, 0)) < noteEvery || !s.noted.CompareAndSwap(before, now.Unix()) {
		return
	}
	if err := s.opt.Store.SetSetting(ctx, originSetting+s.origin, now.UTC().Format(time.RFC3339)); err != nil {
		s.opt.Logger.WarnContext(ctx, "the address that tablets use was not noted", "error", err)
		s.noted.Store(before)
	}
}

// Elsewhere lists other addresses of this server at which tablets worked
// lately. What they have not sent is there.
func (s *Server) Elsewhere(ctx context.Context) ([]hall.Seen, error) {
	if s.origin == "" {
		return nil, nil
	}
	noted, err := s.opt.Store.Settings(ctx, originSetting)
	if err != nil {
		return nil, err
	}
	var seen []hall.Seen
	for origin, text := range noted {
		if at, err := time.Parse(time.RFC3339, text); err == nil {
			seen = append(seen, hall.Seen{Origin: origin, Last: at})
		}
	}
	return hall.Elsewhere(seen, s.origin, s.opt.Now()), nil
}

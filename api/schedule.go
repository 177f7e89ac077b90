package api

import (
	"context"

	"sextant/api/auth"
	"sextant/api/transfer"
	"sextant/stats/record"
	"sextant/store"
)

// IfNoneMatch makes a read conditional (RFC 9110, section 13.1.2).
type IfNoneMatch struct {
	Seen string `header:"If-None-Match" doc:"ETag of an earlier answer: 304 if nothing changed"`
}

// IfMatch makes a write conditional (RFC 9110, section 13.1.1).
type IfMatch struct {
	Expected string `header:"If-Match" doc:"ETag of what was read: 412 if somebody changed it since"`
}

// PreviewQuery asks what a write would do. The structs that are embedded in
// inputs and answers are exported because huma looks into those only.
type PreviewQuery struct {
	Preview bool `query:"preview" doc:"1: say what would change and write nothing"`
}

// report says what a write of a whole table did, or would do.
type report struct {
	Rows     int           `json:"rows"`
	Added    int           `json:"added"`
	Changed  int           `json:"changed"`
	Removed  int           `json:"removed"`
	Problems []problemItem `json:"problems" doc:"Only in a preview; a real write with problems answers 422 and writes nothing"`
}

type reportOutput struct {
	Body report
}

// readInput is the input of a plain read below an event.
type readInput struct {
	EventPath
	IfNoneMatch
}

// teamList is the team list in order of number.
type teamList struct {
	Teams []record.Team `json:"teams"`
}

type teamsOutput struct {
	ETag string `header:"ETag"`
	Body teamList
}

// matchList is the schedule in playing order. A scout's has no results.
type matchList struct {
	Matches []record.Match `json:"matches"`
}

type matchesOutput struct {
	ETag string `header:"ETag"`
	Body matchList
}

// putTableInput carries JSON or CSV; see tableBody.
type putTableInput struct {
	EventPath
	IfMatch
	PreviewQuery
	ContentType string `header:"Content-Type" hidden:"true"`
	RawBody     []byte `contentType:"text/csv"`
}

func (s *Server) getTeams(ctx context.Context, in *readInput) (*teamsOutput, error) {
	teams, version, err := s.opt.Store.Teams(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	out := &teamsOutput{ETag: etag(version), Body: teamList{Teams: some(teams)}}
	return out, fresh(in.Seen, out.ETag)
}

func (s *Server) putTeams(ctx context.Context, in *putTableInput) (*reportOutput, error) {
	version, err := expectedNumber(in.Expected)
	if err != nil {
		return nil, err
	}
	teams, err := readTeams("teams.csv", in.ContentType, in.RawBody)
	if err != nil {
		return refuse(in.Preview, err)
	}
	done, err := transfer.ReplaceTeams(ctx, s.opt.Store, in.Event, "", teams, store.Replace{IfVersion: version, DryRun: in.Preview})
	return written(in.Preview, done, err)
}

func (s *Server) getMatches(ctx context.Context, in *readInput) (*matchesOutput, error) {
	v := viewerOf(ctx)
	ev, err := s.opt.Store.Event(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	matches, version, err := s.opt.Store.Schedule(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	out := &matchesOutput{Body: matchList{Matches: some(matches)}}
	if v.is(auth.Scout) {
		withoutResults(out.Body.Matches)
		out.ETag = etag(version, "schedule")
	} else {
		// Read before the schedule: a tag that is too old costs one request.
		out.ETag = etag(version, ev.DataNo)
	}
	return out, fresh(in.Seen, out.ETag)
}

// withoutResults leaves of a schedule what a scout may see.
func withoutResults(matches []record.Match) {
	for i := range matches {
		for _, side := range []record.Colour{record.Red, record.Blue} {
			a := matches[i].Side(side)
			*a = record.Alliance{Teams: a.Teams, Surrogates: a.Surrogates}
		}
	}
}

func (s *Server) putMatches(ctx context.Context, in *putTableInput) (*reportOutput, error) {
	version, err := expectedNumber(in.Expected)
	if err != nil {
		return nil, err
	}
	matches, err := s.readMatches(ctx, in.Event, "matches.csv", in.ContentType, in.RawBody)
	if err != nil {
		return refuse(in.Preview, err)
	}
	done, err := transfer.ReplaceMatches(ctx, s.opt.Store, in.Event, matches, viewerOf(ctx).by("import"), store.Replace{IfVersion: version, DryRun: in.Preview})
	return written(in.Preview, done, err)
}

// some is the list, never null in JSON.
func some[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

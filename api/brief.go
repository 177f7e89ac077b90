package api

import (
	"context"
	"errors"
	"strings"

	"sextant/api/engine"
	"sextant/stats/brief"
	"sextant/stats/record"
)

// Before a match. The zero of an assumption cannot be told from one that is
// absent, so what is usual stands in the defaults below; a test compares them
// with brief.Usual.

type briefInput struct {
	EventPath
	IfNoneMatch
	Match string  `path:"match" maxLength:"5" example:"Q31"`
	Red   string  `query:"red" maxLength:"64" example:"40101 40102 40103" doc:"Who plays for red, with single spaces between; absent: as the schedule says. With blue, of a match that is in no schedule"`
	Blue  string  `query:"blue" maxLength:"64" doc:"Who plays for blue"`
	Ours  string  `query:"ours" enum:"red,blue" doc:"Whose side to take; absent: that of our team"`
	Squad string  `query:"squad" maxLength:"64" doc:"Our whole alliance if it has more robots than play, with single spaces between; the best line-up is looked for"`
	Goal  string  `query:"goal" enum:"win,ranking_points" doc:"Absent: ranking points in a qualification match, else to win"`
	Loss  float64 `query:"loss" minimum:"0" maximum:"0.6" default:"0.2" doc:"Assumption: share of its points that an opponent loses to a defender"`
	Gain  float64 `query:"gain" minimum:"0" maximum:"1" default:"0.2" doc:"Assumption: share of its points that a robot makes more when a partner feeds it"`
	Keeps float64 `query:"keeps" minimum:"0" maximum:"1" default:"0.5" doc:"Assumption: share of its own points that a defender or feeder still makes"`
}

// briefView is a brief, and from which data it is.
type briefView struct {
	Freshness
	brief.Brief
	Played bool `json:"played" doc:"The match has a result, and the numbers have learned from it"`
}

type briefOutput struct {
	ETag string `header:"ETag"`
	Body briefView
}

func (s *Server) getBrief(ctx context.Context, in *briefInput) (*briefOutput, error) {
	match, err := record.ParseMatch(in.Match)
	if err != nil {
		return nil, invalid.because(sentence(err)+".", problemItem{Parameter: "match", Message: err.Error()})
	}
	req := engine.BriefRequest{
		Match: match, Ours: record.Colour(in.Ours), Goal: brief.Goal(in.Goal),
		Assume: brief.Assume{Loss: in.Loss, Gain: in.Gain, Keeps: in.Keeps},
	}
	for _, list := range []struct {
		name, text string
		to         *[]record.TeamID
	}{{"red", in.Red, &req.Red}, {"blue", in.Blue, &req.Blue}, {"squad", in.Squad, &req.Squad}} {
		for _, t := range strings.Fields(list.text) {
			if !record.ValidTeam(t) {
				message := "\"" + t + "\" is no team number"
				return nil, invalid.because(sentence(errors.New(message))+".", problemItem{Parameter: list.name, Message: message})
			}
			*list.to = append(*list.to, record.TeamID(t))
		}
	}
	b, err := s.engine.Brief(ctx, in.Event, &req)
	switch {
	case errors.Is(err, engine.ErrNoMatch):
		return nil, notFound.because("There is no brief of " + in.Match + ": it is not in the schedule, or nothing is known about any robot yet.")
	case errors.Is(err, engine.ErrNotOurs):
		return nil, invalid.because("Our team does not play in "+in.Match+". Say whose side to take.", problemItem{Parameter: "ours", Message: err.Error()})
	case errors.Is(err, brief.ErrRequest):
		return nil, invalid.because(sentence(err) + ".")
	case err != nil:
		return nil, err
	}
	tag := etag(b.DataNo, s.engine.Key(), b.Current, b.Ours)
	return &briefOutput{ETag: tag, Body: briefView{Freshness{DataNo: b.DataNo, Current: b.Current}, *b.Brief, b.Played}}, fresh(in.Seen, tag)
}

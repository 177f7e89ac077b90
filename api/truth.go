package api

import (
	"context"

	"sextant/stats/check"
)

// truthView is how far the records of an event can be trusted.
type truthView struct {
	Freshness
	check.Survey
}

type truthOutput struct {
	ETag string `header:"ETag"`
	Body truthView
}

func (s *Server) getTruth(ctx context.Context, in *readInput) (*truthOutput, error) {
	survey, dataNo, current, err := s.engine.Truth(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	tag := etag(dataNo, s.engine.Key(), current)
	return &truthOutput{ETag: tag, Body: truthView{Freshness{DataNo: dataNo, Current: current}, *survey}}, fresh(in.Seen, tag)
}

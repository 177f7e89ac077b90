package api

import (
	"context"

	"github.com/google/uuid"

	"sextant/api/engine"
	"sextant/stats/record"
)

// Freshness says from which data an analysis was made.
type Freshness struct {
	DataNo  int64 `json:"data_no" doc:"Number of the last change that went into it"`
	Current bool  `json:"current" doc:"Nothing has changed since; if not, a new one is being computed"`
}

// estimates is what is known about the robots.
type estimates struct {
	Freshness
	Teams []record.TeamEstimate `json:"teams"`
	Fit   record.Fit            `json:"fit"`
}

type estimatesOutput struct {
	ETag string `header:"ETag"`
	Body estimates
}

// forecasts is what to expect of the matches that are not played yet.
type forecasts struct {
	Freshness
	Forecasts []record.Forecast `json:"forecasts"`
}

type forecastsOutput struct {
	ETag string `header:"ETag"`
	Body forecasts
}

type forecastInput struct {
	EventPath
	IfNoneMatch
	Match string `path:"match" maxLength:"5" example:"Q31"`
}

// matchForecast is the forecast of one match.
type matchForecast struct {
	Freshness
	Forecast record.Forecast `json:"forecast"`
}

type forecastOutput struct {
	ETag string `header:"ETag"`
	Body matchForecast
}

func (s *Server) getEstimates(ctx context.Context, in *readInput) (*estimatesOutput, error) {
	a, f, tag, err := s.analysis(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	body := estimates{Freshness: f, Teams: some(a.Estimate.Teams), Fit: a.Estimate.Fit}
	return &estimatesOutput{ETag: tag, Body: body}, fresh(in.Seen, tag)
}

func (s *Server) listForecasts(ctx context.Context, in *readInput) (*forecastsOutput, error) {
	a, f, tag, err := s.analysis(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	return &forecastsOutput{ETag: tag, Body: forecasts{Freshness: f, Forecasts: a.Forecasts}}, fresh(in.Seen, tag)
}

func (s *Server) getForecast(ctx context.Context, in *forecastInput) (*forecastOutput, error) {
	match, err := record.ParseMatch(in.Match)
	if err != nil {
		return nil, invalid.because(sentence(err)+".", problemItem{Parameter: "match", Message: err.Error()})
	}
	a, f, tag, err := s.analysis(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	for _, one := range a.Forecasts {
		if one.Match == match {
			return &forecastOutput{ETag: tag, Body: matchForecast{Freshness: f, Forecast: one}}, fresh(in.Seen, tag)
		}
	}
	return nil, notFound.because("There is no forecast of " + in.Match + ": it is not in the schedule, was played, or nothing is known about any robot yet.")
}

// analysis is the newest analysis of an event, how new it is, and its ETag.
func (s *Server) analysis(ctx context.Context, event uuid.UUID) (*engine.Analysis, Freshness, string, error) {
	a, current, err := s.engine.Analysis(ctx, event)
	if err != nil {
		return nil, Freshness{}, "", err
	}
	return a, Freshness{DataNo: a.DataNo, Current: current}, etag(a.DataNo, s.engine.Key(), current), nil
}

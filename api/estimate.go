package api

import (
	"context"

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
	return nil, errNotReady
}

func (s *Server) listForecasts(ctx context.Context, in *readInput) (*forecastsOutput, error) {
	return nil, errNotReady
}

func (s *Server) getForecast(ctx context.Context, in *forecastInput) (*forecastOutput, error) {
	return nil, errNotReady
}

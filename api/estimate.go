package api

import (
	"context"

	"github.com/google/uuid"

	"sextant/api/engine"
	"sextant/stats/forecast"
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
	Teams    []record.TeamEstimate `json:"teams"`
	Together [][]float64           `json:"together" doc:"Covariances of now, in points²: row i has those of team i with the teams before it. With now_sd they say how sure a difference of two robots is"`
	Fit      record.Fit            `json:"fit"`
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

// judgements are the scales that scouts' judgements make.
type judgements struct {
	Freshness
	Scales []record.JudgementScale `json:"scales"`
}

type judgementsOutput struct {
	ETag string `header:"ETag"`
	Body judgements
}

type forecastInput struct {
	EventPath
	IfNoneMatch
	Match string `path:"match" maxLength:"5" example:"Q31"`
}

// matchForecast is the forecast of one match and, once it was played, what
// became of it.
type matchForecast struct {
	Freshness
	Forecast *record.Forecast       `json:"forecast,omitempty" doc:"Of a played match: made from what was known before it. Absent while that is pending, and where nothing was known"`
	Red      *forecast.Distribution `json:"red,omitempty" doc:"Red's score as it was drawn; only of a match to come"`
	Blue     *forecast.Distribution `json:"blue,omitempty"`
	Actual   *matchActual           `json:"actual,omitempty" doc:"Absent: not played"`
	Pending  bool                   `json:"pending" doc:"The forecast of a played match is being made; an analysis message tells when"`
}

// matchActual is what became of a match.
type matchActual struct {
	RedScore      float64                           `json:"red_score"`
	BlueScore     float64                           `json:"blue_score"`
	RankingPoints map[record.Colour]map[string]bool `json:"ranking_points" doc:"By alliance and id: gained or not; what the results do not show is absent"`
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
	body := estimates{Freshness: f, Teams: some(a.Estimate.Teams), Together: some(a.Together), Fit: a.Estimate.Fit}
	return &estimatesOutput{ETag: tag, Body: body}, fresh(in.Seen, tag)
}

func (s *Server) getJudgements(ctx context.Context, in *readInput) (*judgementsOutput, error) {
	a, f, tag, err := s.analysis(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	return &judgementsOutput{ETag: tag, Body: judgements{Freshness: f, Scales: some(a.Judgements)}}, fresh(in.Seen, tag)
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
	d, err := s.engine.Detail(ctx, in.Event, match)
	if err != nil {
		return nil, err
	}
	body := matchForecast{Freshness: f, Red: d.Red, Blue: d.Blue, Pending: d.Pending, Forecast: d.Forecast}
	for i := range a.Forecasts {
		if a.Forecasts[i].Match == match {
			body.Forecast = &a.Forecasts[i]
		}
	}
	if d.Played != nil {
		body.Actual = &matchActual{
			RedScore: d.Played.Red.Result.Score, BlueScore: d.Played.Blue.Result.Score,
			RankingPoints: d.Gained,
		}
	}
	if body.Forecast == nil && body.Actual == nil {
		return nil, notFound.because("There is no forecast of " + in.Match + ": it is not in the schedule, or nothing is known about any robot yet.")
	}
	if d.Played != nil {
		tag = etag(f.DataNo, s.engine.Key(), f.Current, d.Pending)
	}
	return &forecastOutput{ETag: tag, Body: body}, fresh(in.Seen, tag)
}

// analysis is the newest analysis of an event, how new it is, and its ETag.
func (s *Server) analysis(ctx context.Context, event uuid.UUID) (*engine.Analysis, Freshness, string, error) {
	a, current, err := s.engine.Analysis(ctx, event)
	if err != nil {
		return nil, Freshness{}, "", err
	}
	return a, Freshness{DataNo: a.DataNo, Current: current}, etag(a.DataNo, s.engine.Key(), current), nil
}

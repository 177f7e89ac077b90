package api

import (
	"context"
	"errors"

	"sextant/api/engine"
	"sextant/stats/backtest"
	"sextant/stats/forecast"
	"sextant/stats/record"
	"sextant/stats/standings"
)

// What follows from the estimates: standings to come, how forecasts fared, and
// forecasts of what may be otherwise.

type standingsInput struct {
	EventPath
	IfNoneMatch
	Top int `query:"top" minimum:"0" maximum:"9999" doc:"Our goal: this place or better. 0: to be among the captains; without captains, the first"`
}

// standingsView is the ranking as it is and how it may end.
type standingsView struct {
	Freshness
	First     bool                 `json:"first" doc:"A first picture of few runs; the whole one is being made"`
	Runs      int                  `json:"runs" doc:"How often the rest of the event was played; 0: nothing is known of any robot yet, so teams and schedules are empty"`
	Captains  int                  `json:"captains" doc:"Places that make a captain; 0: the game does not say"`
	OurTeam   string               `json:"our_team,omitempty"`
	Order     []string             `json:"order" doc:"What the ranking compares, first first: ranking_points, score or a component's id"`
	Ranking   []standings.Ranked   `json:"ranking" doc:"The ranking as it is, best first"`
	Teams     []standings.Ending   `json:"teams" doc:"Where each robot may end, best expected place first"`
	Schedules []standings.Schedule `json:"schedules" doc:"How hard each schedule was and will be, in order of number"`
	Goal      *standings.Goal      `json:"goal,omitempty" doc:"What our goal hangs on; absent without a team of ours"`
}

type standingsOutput struct {
	ETag string `header:"ETag"`
	Body standingsView
}

func (s *Server) getStandings(ctx context.Context, in *standingsInput) (*standingsOutput, error) {
	got, dataNo, current, err := s.engine.Standings(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	tag := etag(dataNo, s.engine.Key(), current, in.Top, got.OurTeam, got.First)
	body := standingsView{
		Freshness: Freshness{DataNo: dataNo, Current: current}, OurTeam: string(got.OurTeam), Order: got.Order, First: got.First,
		Ranking: got.Current, Teams: []standings.Ending{}, Schedules: []standings.Schedule{},
	}
	if o := got.Outlook; o != nil {
		body.Runs, body.Captains, body.Teams, body.Schedules = o.Runs, o.Captains, o.Teams, got.Schedules
		if o.Has() {
			top := in.Top
			if top == 0 {
				top = max(1, o.Captains)
			}
			goal := o.Goal(top)
			body.Goal = &goal
		}
	}
	return &standingsOutput{ETag: tag, Body: body}, fresh(in.Seen, tag)
}

// calibrationView is how forecasts fared.
type calibrationView struct {
	Freshness
	backtest.Calibration
	Forecasts []playedForecast `json:"forecasts" doc:"Each made from what was known just before its match, in playing order"`
}

// playedForecast is a forecast and what became of it.
type playedForecast struct {
	record.Forecast
	RedScore  float64 `json:"red_score"`
	BlueScore float64 `json:"blue_score"`
}

type calibrationOutput struct {
	ETag string `header:"ETag"`
	Body calibrationView
}

func (s *Server) getCalibration(ctx context.Context, in *readInput) (*calibrationOutput, error) {
	c, dataNo, current, err := s.engine.Calibration(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	tag := etag(dataNo, s.engine.Key(), current)
	body := calibrationView{Freshness{DataNo: dataNo, Current: current}, *c, []playedForecast{}}
	for i := range c.Forecasts {
		m := &c.Forecasts[i]
		body.Forecasts = append(body.Forecasts, playedForecast{m.Forecast, m.RedScore, m.BlueScore})
	}
	return &calibrationOutput{ETag: tag, Body: body}, fresh(in.Seen, tag)
}

type whatIfInput struct {
	EventPath
	Body struct {
		Match   string          `json:"match" maxLength:"5" example:"Q31"`
		Red     []string        `json:"red,omitempty" maxItems:"6" doc:"Who plays for red; absent: as the schedule says. With blue, of a match that is in no schedule"`
		Blue    []string        `json:"blue,omitempty" maxItems:"6" doc:"Who plays for blue"`
		Replace []forecast.Swap `json:"replace,omitempty" maxItems:"12" doc:"Robots in the place of others, one after the other; two that both play change places"`
		Stop    []string        `json:"stop,omitempty" maxItems:"12" doc:"Robots that stand all match"`
		Defend  []whatIfDefence `json:"defend,omitempty" maxItems:"12" doc:"Assumptions of the caller, after replace"`
	}
}

// whatIfDefence is an assumption of the caller: data say little about defence.
type whatIfDefence struct {
	Team    string  `json:"team" maxLength:"6" doc:"Who defends"`
	Against string  `json:"against" maxLength:"6" doc:"The opponent that is hindered"`
	Loss    float64 `json:"loss" minimum:"0" maximum:"0.6" doc:"Share of its points that the opponent loses"`
	Keeps   float64 `json:"keeps" minimum:"0" maximum:"1" doc:"Share of its own points that the defender still makes"`
}

// whatIfView is a forecast before and after; both were drawn with the same luck.
type whatIfView struct {
	Freshness
	Before forecast.Detail `json:"before"`
	After  forecast.Detail `json:"after"`
}

type whatIfOutput struct {
	Body whatIfView
}

func (s *Server) whatIf(ctx context.Context, in *whatIfInput) (*whatIfOutput, error) {
	match, err := record.ParseMatch(in.Body.Match)
	if err != nil {
		return nil, invalid.because(sentence(err)+".", problemItem{Pointer: "/match", Message: err.Error()})
	}
	change := forecast.Change{Replace: in.Body.Replace}
	for _, t := range in.Body.Stop {
		change.Stop = append(change.Stop, record.TeamID(t))
	}
	for _, d := range in.Body.Defend {
		change.Defend = append(change.Defend, forecast.Defence{Team: record.TeamID(d.Team), Against: record.TeamID(d.Against), Loss: d.Loss, Keeps: d.Keeps})
	}
	before, after, dataNo, current, err := s.engine.WhatIf(ctx, in.Event, match, teamIDs(in.Body.Red), teamIDs(in.Body.Blue), &change)
	var bad *forecast.ChangeError
	switch {
	case errors.As(err, &bad):
		return nil, invalid.because(sentence(err)+".", problemItem{Pointer: bad.Field, Message: bad.Message})
	case errors.Is(err, engine.ErrNoMatch):
		return nil, notFound.because("There is no forecast of " + in.Body.Match + ": it is not in the schedule, or nothing is known about any robot yet.")
	case err != nil:
		return nil, err
	}
	return &whatIfOutput{Body: whatIfView{Freshness{DataNo: dataNo, Current: current}, before, after}}, nil
}

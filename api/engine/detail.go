package engine

import (
	"context"
	"errors"

	"github.com/google/uuid"

	"sextant/stats/forecast"
	"sextant/stats/record"
)

// detailDraws of one match: enough for a smooth curve, in a few hundredths of a
// second.
const detailDraws = 4000

// ErrNoMatch says that a match cannot be forecast: it is not in the schedule, an
// alliance has no teams, or nothing is known of any robot yet.
var ErrNoMatch = errors.New("there is no such match to forecast")

// Detail is what there is to know of one match beside the forecast of Analysis.
type Detail struct {
	Red, Blue *forecast.Distribution // nil: played, or nothing is known
	Played    *record.Match          // with its result; nil: not played
	Gained    map[record.Colour]map[string]bool
	Forecast  *record.Forecast // of a played match, from before it; nil: pending, or there is none
	Pending   bool
}

// Detail tells of a match; what there is not is nil. Its errors are those of Model.
func (e *Engine) Detail(ctx context.Context, event uuid.UUID, id record.MatchID) (Detail, error) {
	var d Detail
	m, _, err := e.Model(ctx, event)
	if err != nil {
		return d, err
	}
	match := lastOf(m.Event.Matches, id)
	if match == nil || m.Fit == nil {
		return d, nil
	}
	if !match.Played() {
		if drawn, err := forecast.Drawing(m.Draw, m.Fit, match, detailDraws); err == nil { // else an alliance without teams
			d.Red, d.Blue = &drawn.Red, &drawn.Blue
		}
		return d, nil
	}
	d.Played, d.Gained = match, map[record.Colour]map[string]bool{}
	for _, c := range []record.Colour{record.Red, record.Blue} {
		d.Gained[c] = map[string]bool{}
		for i := range m.Event.Game.RankingPoints {
			p := &m.Event.Game.RankingPoints[i]
			if got, known := match.Gained(m.Event.Game, &p.When, c); known {
				d.Gained[c][p.ID] = got
			}
		}
	}
	earlier, pending, err := e.earlier(ctx, event)
	if err != nil {
		return d, err
	}
	for i := range earlier {
		if earlier[i].Match == id {
			d.Forecast = &earlier[i].Forecast
		}
	}
	d.Pending = pending && d.Forecast == nil
	return d, nil
}

// WhatIf forecasts a match as it stands and with a change, and tells from which
// data. Red and blue are who plays; nil: as the schedule says. Its errors are those of Model, ErrNoMatch, and *forecast.ChangeError.
func (e *Engine) WhatIf(ctx context.Context, event uuid.UUID, id record.MatchID, red, blue []record.TeamID, c *forecast.Change) (before, after forecast.Detail, dataNo int64, current bool, err error) {
	m, current, err := e.Model(ctx, event)
	if err != nil {
		return before, after, 0, false, err
	}
	match := lineUp(m, &BriefRequest{Match: id, Red: red, Blue: blue})
	if match == nil {
		return before, after, 0, false, ErrNoMatch
	}
	before, after, err = forecast.WhatIf(m.Draw, m.Fit, match, c, detailDraws)
	return before, after, m.DataNo, current, err
}

// lastOf is the last play of a match; matches are in playing order.
func lastOf(matches []record.Match, id record.MatchID) *record.Match {
	for i := len(matches) - 1; i >= 0; i-- {
		if matches[i].ID == id {
			return &matches[i]
		}
	}
	return nil
}

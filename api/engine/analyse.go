package engine

import (
	"errors"
	"fmt"

	"sextant/stats/contrib"
	"sextant/stats/forecast"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// draws of each match to come: the standard error of a chance is then at most
// 1.1 in a hundred, and that of an end of the 80 % interval about 4 % of the
// standard deviation of a score. A hundred matches take a third of a second.
const draws = 2000

// analyse is the pure part: an event's data and options in, estimates and
// forecasts of the matches that are not played out. Without any result or
// record there is nothing to tell, which is no error. Its only error is
// ErrUnsolvable.
func analyse(ev *record.Event, opt contrib.Options) (*Analysis, error) {
	a := &Analysis{
		Estimate:  record.Estimate{Teams: []record.TeamEstimate{}, Fit: record.Fit{Components: map[string]float64{}}},
		Forecasts: []record.Forecast{},
	}
	fit, err := contrib.Estimate(ev, opt)
	if errors.Is(err, contrib.ErrNoData) {
		return a, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrUnsolvable, err)
	}
	a.Estimate = fit.Record()
	drawn := simulate.New(fit)
	for i := range ev.Matches {
		m := &ev.Matches[i]
		if m.Played() || !lastPlay(ev.Matches, i) || len(m.Red.Teams) == 0 || len(m.Blue.Teams) == 0 {
			continue
		}
		f, err := forecast.Drawn(drawn, fit, m, forecast.Source(m.ID), draws)
		if err != nil {
			return nil, fmt.Errorf("%w: forecast of %s: %w", ErrUnsolvable, m.ID, err)
		}
		a.Forecasts = append(a.Forecasts, f)
	}
	return a, nil
}

// lastPlay reports whether no later play of the same match follows; matches
// are in playing order.
func lastPlay(matches []record.Match, i int) bool {
	return i+1 == len(matches) || matches[i+1].ID != matches[i].ID
}

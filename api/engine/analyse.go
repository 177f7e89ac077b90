package engine

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"runtime/debug"

	"golang.org/x/sync/errgroup"

	"sextant/stats/contrib"
	"sextant/stats/forecast"
	"sextant/stats/judge"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// draws of each match to come: the standard error of a chance is then at most
// 1.1 in a hundred, and that of an end of the 80 % interval about 4 % of the
// standard deviation of a score. A hundred matches take a third of a second.
const draws = 2000

// Model is what further analyses are made from: the data, the estimate and the
// simulator at one state of the data. It is shared: nobody may change it.
type Model struct {
	DataNo int64
	Event  *record.Event
	Fit    *contrib.Fit     // nil: nothing is known of any robot yet
	Draw   *simulate.Engine // nil with Fit
}

// rankSeed starts the draws of robots' places on the scales of judgement: the
// same data give the same answer.
const rankSeed = 1

// analyse is the pure part: an event's data and options in, estimates and
// forecasts of the matches that are not played out. Without any result or
// record there is nothing to tell, which is no error. Its only error is
// ErrUnsolvable.
func analyse(ev *record.Event, opt contrib.Options) (*Analysis, *Model, error) {
	a := &Analysis{
		Estimate:  record.Estimate{Teams: []record.TeamEstimate{}, Fit: record.Fit{Components: map[string]float64{}}},
		Forecasts: []record.Forecast{}, Together: [][]float64{},
	}
	m := &Model{Event: ev}
	var beside errgroup.Group
	beside.Go(guarded("judging", func() (err error) {
		if a.Judgements, err = judge.Scales(ev, rand.New(rand.NewPCG(rankSeed, 0))); err != nil {
			return fmt.Errorf("%w: %w", ErrUnsolvable, err)
		}
		return nil
	}))
	err := estimate(a, m, opt)
	if err := errors.Join(err, beside.Wait()); err != nil {
		return nil, nil, err
	}
	return a, m, nil
}

// estimate puts estimates and forecasts into an analysis and its model, if
// anything is known.
func estimate(a *Analysis, m *Model, opt contrib.Options) error {
	fit, err := contrib.Estimate(m.Event, opt)
	if errors.Is(err, contrib.ErrNoData) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("%w: %w", ErrUnsolvable, err)
	}
	a.Estimate, a.Together = fit.Record(), together(fit)
	m.Fit, m.Draw = fit, simulate.New(fit)
	a.Forecasts, err = forecasts(m.Event, m)
	return err
}

// guarded makes a panic an error: a defect must not end the program, see Engine.compute.
func guarded(what string, work func() error) func() error {
	return func() (err error) {
		defer func() {
			if p := recover(); p != nil {
				err = fmt.Errorf("%s panicked: %v\n%s", what, p, debug.Stack())
			}
		}()
		return work()
	}
}

// together are the covariances of estimates, to a thousandth of a point².
func together(fit *contrib.Fit) [][]float64 {
	out := make([][]float64, len(fit.Teams()))
	for i := range out {
		out[i] = make([]float64, i)
		for j := range i {
			out[i][j] = math.Round(1000*fit.Cov(i, j)) / 1000
		}
	}
	return out
}

// forecasts are those of the matches to come, in playing order, made on all cores.
func forecasts(ev *record.Event, m *Model) ([]record.Forecast, error) {
	var due []*record.Match
	for i := range ev.Matches {
		match := &ev.Matches[i]
		if !match.Played() && lastPlay(ev.Matches, i) && len(match.Red.Teams) > 0 && len(match.Blue.Teams) > 0 {
			due = append(due, match)
		}
	}
	out := make([]record.Forecast, len(due))
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for i, match := range due {
		group.Go(guarded("a forecast", func() (err error) {
			out[i], err = forecast.Drawn(m.Draw, m.Fit, match, forecast.Source(match.ID), draws)
			if err != nil {
				return fmt.Errorf("%w: forecast of %s: %w", ErrUnsolvable, match.ID, err)
			}
			return nil
		}))
	}
	return out, group.Wait()
}

// lastPlay reports whether no later play of the same match follows; matches
// are in playing order.
func lastPlay(matches []record.Match, i int) bool {
	return i+1 == len(matches) || matches[i+1].ID != matches[i].ID
}

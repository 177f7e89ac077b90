package contrib

import (
	"errors"
	"fmt"
	"sync"

	"gonum.org/v1/gonum/mat"

	"sextant/stats/contrib/fused"
	"sextant/stats/game"
	"sextant/stats/record"
)

// Posterior is an estimate as data: what drawing matches needs of it, so that
// another device can draw the same. What tells how it came about is left out.
type Posterior struct {
	Teams       []record.TeamID      `json:"teams" nullable:"false"`
	Strength    []float64            `json:"strength" nullable:"false" doc:"Points a match when nothing stops it, by robot"`
	Cov         [][]float64          `json:"cov" nullable:"false" doc:"Covariance of what is not known of strength, in points²: rows of 1, 2, 3 … numbers"`
	Exposure    []float64            `json:"exposure" nullable:"false" doc:"Share of a match that a robot is expected to have"`
	ExposureVar []float64            `json:"exposure_var" nullable:"false" doc:"Variance of what is not known of exposure"`
	StopsVar    float64              `json:"stops_var" doc:"Variance of the share that a robot has of one match"`
	Scale       float64              `json:"scale" doc:"Points that the components are in units of"`
	Components  []float64            `json:"components" nullable:"false"`
	Calibration float64              `json:"calibration"`
	RestMean    float64              `json:"rest_mean" doc:"Points of an alliance beyond its robots"`
	RestSD      float64              `json:"rest_sd"`
	Shift       float64              `json:"shift" doc:"How much more robots do in playoffs, as a share"`
	ShiftSD     float64              `json:"shift_sd"`
	FoulMean    float64              `json:"foul_mean"`
	FoulVar     float64              `json:"foul_var"`
	Units       []map[string]float64 `json:"units" nullable:"false" doc:"By robot: units of each action a match; empty if nobody watched"`
}

// Posterior gives the estimate as data. It shares nothing with f.
func (f *Fit) Posterior() *Posterior {
	p := &Posterior{
		Teams: append([]record.TeamID{}, f.teams...), Strength: append([]float64{}, f.fused.Now.Mean...),
		Exposure: append([]float64{}, f.exposure.mean...), ExposureVar: append([]float64{}, f.exposure.meanVar...), StopsVar: f.exposure.variance,
		Scale: f.fused.Scale, Components: append([]float64{}, f.fused.Components[:]...), Calibration: f.fused.Calibration,
		RestMean: f.fused.RestMean, RestSD: f.fused.RestSD,
		Shift: f.fused.Shift, ShiftSD: f.fused.ShiftSD, FoulMean: f.foulMean, FoulVar: f.foulVar,
	}
	for i, actions := range f.actions() {
		row, units := make([]float64, i+1), map[string]float64{}
		for j := range row {
			row[j] = f.fused.Now.Cov.At(i, j)
		}
		for id, a := range actions {
			units[id] = a.Mean
		}
		p.Cov, p.Units = append(p.Cov, row), append(p.Units, units)
	}
	return p
}

// Fit is the estimate again, for a game: package simulate draws the same from
// it. Record is empty, Parts are not known, and Skew is 0. The error says what
// does not fit together.
func (p *Posterior) Fit(g *game.Game) (*Fit, error) {
	n := len(p.Teams)
	var c fused.Components
	switch {
	case len(p.Strength) != n || len(p.Cov) != n || len(p.Exposure) != n || len(p.ExposureVar) != n || len(p.Units) != n:
		return nil, fmt.Errorf("the estimate is of %d teams, and not all of its lists are; load it again", n)
	case len(p.Components) != len(c):
		return nil, fmt.Errorf("the estimate has %d components, and this program knows %d; load both again", len(p.Components), len(c))
	case n == 0 || !(p.Scale > 0):
		return nil, errors.New("the estimate knows nothing of any robot; load it again when a match was played")
	}
	copy(c[:], p.Components)
	cov := mat.NewSymDense(n, nil)
	f := &Fit{
		teams: p.Teams, index: map[record.TeamID]int{}, size: g.Alliance.Robots, game: g,
		mean: make([]float64, n), cov: mat.NewSymDense(n, nil), foulMean: p.FoulMean, foulVar: p.FoulVar,
		exposure: &exposure{mean: p.Exposure, meanVar: p.ExposureVar, variance: p.StopsVar},
		fused: &fused.Fit{
			Settings: fused.Settings{Components: c}, Scale: p.Scale, Now: fused.Belief{Mean: p.Strength, Cov: cov},
			RestMean: p.RestMean, RestSD: p.RestSD, Shift: p.Shift, ShiftSD: p.ShiftSD, Calibration: p.Calibration,
		},
		estimate: func() record.Estimate { return record.Estimate{} },
		parts:    func() []*Part { return make([]*Part, len(g.Components)) },
	}
	for i, row := range p.Cov {
		if len(row) != i+1 {
			return nil, fmt.Errorf("row %d of the covariance has %d numbers; load the estimate again", i+1, len(row))
		}
		f.index[p.Teams[i]] = i
		for j, v := range row {
			cov.SetSym(i, j, v)
		}
	}
	for i := range n {
		f.mean[i] = p.Exposure[i] * p.Strength[i]
		for j := i; j < n; j++ {
			f.cov.SetSym(i, j, stopped(f.exposure, i, j, f.fused.Now))
		}
	}
	f.actions = sync.OnceValue(func() []map[string]record.ActionEstimate {
		out := make([]map[string]record.ActionEstimate, n)
		for i, units := range p.Units {
			out[i] = map[string]record.ActionEstimate{}
			for id, mean := range units {
				out[i][id] = record.ActionEstimate{Mean: mean}
			}
		}
		return out
	})
	return f, nil
}

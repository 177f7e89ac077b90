package fused

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/mat"
)

// ErrNothing says that a problem has no robots or no scale.
var ErrNothing = errors.New("no robots or no scale to measure them by")

// Options of a fit.
type Options struct {
	// Start is where the search for the components starts: those of an
	// earlier fit, or nil for the priors' medians.
	Start *Settings
	// Hold keeps the components and spreads of Start as they are.
	Hold bool
}

// Settings are what a fit learned about noise, so that the next one can start
// there or hold it.
type Settings struct {
	Components Components
	Spread     []float64 // c_k by scout; scouts beyond its end have 1
	Tail       []float64 // hᵢ by robot; robots beyond its end have 1
}

// Fit is the model after all plays. Figures are in points.
type Fit struct {
	Settings
	Scale float64
	// Now is θ of every robot as it would go into its next match.
	Now Belief
	// Over is θ over the event with all matches alike. It costs a pass on first
	// use: a forecast does not need it.
	Over func() Belief
	// Bias is the relative bias of every scout with its standard deviation.
	Bias, BiasSD []float64
	RestMean     float64 // ρ, points per alliance and match
	RestSD       float64 // from match to match and what is not known of ρ
	// Shift is λ, how much more all robots do in playoffs, as a share. Before
	// the first of them it is 0 with the prior's standard deviation.
	Shift, ShiftSD float64
	// LogLikelihood is of all rows in points, LogPosterior with the priors of the components.
	LogLikelihood, LogPosterior float64
	// PosteriorSD is of the log of each component; the prior's where nothing was searched.
	PosteriorSD [componentCount]float64
	// Views tells of each row of a scout, in the order of plays and views, how
	// it stands to all other rows.
	Views []ViewCheck
	// Totals are the official totals' standardised residuals from what a
	// forecast just before the match would have said, in order.
	Totals []float64
	// Calibration is the mean square of Totals, drawn towards 1: by what the
	// variance of a forecast should be multiplied. Skew is their third moment.
	Calibration, Skew float64
	Rows              int
	Outliers          int // rows of scouts that lost weight
}

// ViewCheck is a scout's row against all others and the belief.
type ViewCheck struct {
	Play, View int
	T          float64 // standardised residual given all other rows of the match
	Residual   float64 // points: seen − expected before the match
}

// Belief is mean and covariance of all robots' θ in points.
type Belief struct {
	Mean []float64
	Cov  *mat.SymDense
}

// Fit fits the model to the problem.
func (p *Problem) Fit(opt Options) (*Fit, error) {
	if p.Robots == 0 || !(p.Scale > 0) {
		return nil, ErrNothing
	}
	m := newModel(p)
	set := Settings{Components: Medians()}
	if opt.Start != nil {
		set.Components = opt.Start.Components
		copy(m.spread, opt.Start.Spread)
		copy(m.tail, opt.Start.Tail)
	}
	var sd point
	for i := range sd {
		sd[i] = Priors[i].SD
	}
	if !opt.Hold {
		var err error
		if set.Components, sd, err = m.tune(set.Components); err != nil {
			return nil, err
		}
	}
	set.Spread, set.Tail = slices.Clone(m.spread), slices.Clone(m.tail)
	fit := &Fit{Settings: set, Scale: p.Scale, PosteriorSD: sd}
	if err := m.report(fit); err != nil {
		return nil, err
	}
	return fit, nil
}

// tune searches the components, the scouts' spreads and the robots' tails.
func (m *model) tune(start Components) (Components, point, error) {
	fixed := [componentCount]bool{}
	if !m.watched() {
		fixed[ScoutBase], fixed[ScoutRate], fixed[Bias] = true, true, true
	}
	if err := m.persons(&start, 2); err != nil {
		return start, point{}, err
	}
	at, _, sd, err := search(m.posterior(), start.coordinates(), fixed, 3)
	if err != nil {
		return start, sd, fmt.Errorf("search variance components: %w", err)
	}
	found := fromCoordinates(at)
	if err := m.persons(&found, 1); err != nil {
		return start, sd, err
	}
	for i := range sd {
		sd[i] *= Priors[i].SD
	}
	return found, sd, nil
}

// posterior evaluates minus the log posterior at several points at once, each on
// one of as many models as there are processors; what comes out does not depend
// on how many these are.
func (m *model) posterior() func([]point, []float64) error {
	models := []*model{m}
	for range runtime.GOMAXPROCS(0) - 1 {
		if len(models) < 2*componentCount {
			models = append(models, m.twin())
		}
	}
	return func(at []point, values []float64) error {
		errs := make([]error, len(at))
		var next atomic.Int64
		work := func(m *model) {
			for k := next.Add(1) - 1; k < int64(len(at)); k = next.Add(1) - 1 {
				c := fromCoordinates(at[k])
				var ll float64
				ll, errs[k] = m.pass(&c, course{now: true})
				for _, v := range at[k] {
					ll -= 0.5 * v * v
				}
				values[k] = -ll
			}
		}
		var wait sync.WaitGroup
		for _, other := range models[1:min(len(models), len(at))] {
			wait.Go(func() { work(other) })
		}
		work(m)
		wait.Wait()
		return errors.Join(errs...)
	}
}

// watched reports whether anything was told about single robots.
func (m *model) watched() bool {
	return slices.ContainsFunc(m.p.Plays, func(p Play) bool { return len(p.Views) > 0 })
}

const (
	// spreadPrior is how many rows of a middling scout each scout starts with.
	spreadPrior = 12
	// tailFreedom is ν: robots differ by a Student t law, since a few are far
	// ahead of all others and a normal law would draw them in.
	tailFreedom = 4
)

// persons fits what is one scout's and one robot's own, an EM step a round.
//
// Each scout's variance factor c_k goes to the mean of E[ε²]/Var ε over the
// scout's rows, which is 1 + v·(d² − (S⁻¹)ₖₖ) for a row of variance v with d =
// (S⁻¹·residual)ₖ, together with spreadPrior rows at 1 (an inverse gamma prior).
//
// Each robot's factor hᵢ on τ² goes to (ν + E[(θᵢ − mean)²]/τ²)/(ν + 1), the
// scale mixture form of Student's t (Lange, Little, Taylor 1989,
// doi:10.1080/01621459.1989.10478852), where there are records.
func (m *model) persons(c *Components, rounds int) error {
	if !m.watched() {
		return nil // a total says too little about one robot
	}
	sum, n := make([]float64, m.p.Scouts), make([]float64, m.p.Scouts)
	for range rounds {
		clear(sum)
		clear(n)
		count := func(scout, row int) {
			t, variance, precision := m.batch.Check(row)
			sum[scout] += 1 + variance*precision*(math.Min(t*t, 9)-1)
			n[scout]++
		}
		_, err := m.pass(c, course{now: true, trained: func(m *model) {
			for k, t := range m.p.Trained {
				count(t.Scout, k)
			}
		}, after: func(i int, m *model) {
			play := &m.p.Plays[i]
			first := len(play.Totals)
			for k, v := range play.Views {
				if !v.Official {
					count(v.Scout, first+k)
				}
			}
		}})
		if err != nil {
			return err
		}
		if m.p.Scouts > 1 { // one alone cannot be told apart from r₀ and r₁
			for k := range sum {
				m.spread[k] = math.Max(0.2, (m.spread[k]*sum[k]+spreadPrior)/(n[k]+spreadPrior))
			}
		}
		mean := 0.0
		for i := range m.tail {
			mean += m.filter.Mean(i) / float64(len(m.tail))
		}
		for i := range m.tail {
			off := (square(m.filter.Mean(i)-mean) + m.filter.Cov(i, i)) / square(c[Robot])
			m.tail[i] = (tailFreedom + off) / (tailFreedom + 1)
		}
	}
	return nil
}

// report runs the two final passes and reads them off.
func (m *model) report(fit *Fit) error {
	p, s := m.p, m.p.Scale
	c := &fit.Components
	var predicted []float64 // residuals of the rows of the play before the update
	ll, err := m.pass(c, course{now: true,
		observe: func(i int, m *model) {
			for _, t := range p.Plays[i].Totals {
				fit.Totals = append(fit.Totals, m.surprise(c, &p.Plays[i], t))
			}
			predicted = predicted[:0]
			for k := range m.batch.Len() {
				predicted = append(predicted, m.batch.Residual(k))
			}
		},
		after: func(i int, m *model) {
			play := &p.Plays[i]
			for k, v := range play.Views {
				t, _, _ := m.batch.Check(len(play.Totals) + k)
				fit.Views = append(fit.Views, ViewCheck{Play: i, View: k, T: t, Residual: s * predicted[len(play.Totals)+k]})
				if !v.Official && math.Abs(t) > outlierLimit {
					fit.Outliers++
				}
			}
			fit.Rows += m.batch.Len()
		}})
	if err != nil {
		return err
	}
	fit.LogLikelihood = ll - float64(fit.Rows)*math.Log(s)
	fit.LogPosterior = fit.LogLikelihood
	for _, u := range c.coordinates() {
		fit.LogPosterior -= 0.5 * u * u
	}
	fit.calibrate()
	m.time += m.gain // the match to come
	fit.Now = m.belief()
	for k := range p.Scouts {
		fit.Bias = append(fit.Bias, m.filter.Mean(m.scoutIndex(k)))
		fit.BiasSD = append(fit.BiasSD, math.Sqrt(m.filter.Cov(m.scoutIndex(k), m.scoutIndex(k))))
	}
	fit.RestMean = s * m.filter.Mean(m.rest())
	fit.RestSD = s * math.Sqrt(m.restVar(c)+m.filter.Cov(m.rest(), m.rest()))
	fit.Shift, fit.ShiftSD = m.filter.Mean(m.shift()), math.Sqrt(m.filter.Cov(m.shift(), m.shift()))
	fit.Over = sync.OnceValue(func() Belief {
		m := newModel(p)
		copy(m.spread, fit.Spread)
		copy(m.tail, fit.Tail)
		if _, err := m.pass(c, course{}); err != nil {
			return fit.Now // numbers at the edge of what can be solved: wider, and of the same robots
		}
		return m.belief()
	})
	return nil
}

// calibrationPrior is as many totals that were forecast with the right width.
const calibrationPrior = 80

func (fit *Fit) calibrate() {
	n := float64(len(fit.Totals))
	var squares, cubes float64
	for _, z := range fit.Totals {
		z = math.Min(4, math.Max(-4, z)) // one breakdown of a whole alliance says little about the rest
		squares += z * z
		cubes += z * z * z
	}
	fit.Calibration = (calibrationPrior + squares) / (calibrationPrior + n)
	if n > 0 {
		fit.Skew = cubes / n / math.Pow(math.Max(squares/n, 0.25), 1.5)
	}
}

// surprise is an official total's standardised residual from what a forecast
// just before the match would have said, when nobody knew who would stop.
func (m *model) surprise(c *Components, play *Play, t Total) float64 {
	f, s := m.filter, m.p.Scale
	index, coef := m.index[:0], m.coef[:0]
	var mean, variance, there, sum, root float64
	hard := m.harder(play)
	for _, r := range play.Present[t.From:t.To] {
		theta := hard * m.strength(r.Robot)
		mean += r.Expected * theta
		there += hard * r.Expected
		index, coef = append(index, r.Robot), append(coef, hard*r.Expected)
		luck := matchVar(c, theta) * r.Expected
		variance += luck + r.ExpectedVar*theta*theta
		sum += luck
		root += math.Sqrt(luck)
	}
	share := float64(t.To-t.From) / float64(m.p.Size)
	index, coef = append(index, m.drift(), m.rest()), append(coef, there*m.time, share)
	if play.Playoff {
		index, coef = append(index, m.shift()), append(coef, mean/hard)
	}
	mean += share * f.Mean(m.rest())
	_, doubt := f.Predict(index, coef)
	variance += c[Partners]*(root*root-sum) + doubt + totalSD*totalSD + m.restVar(c) + t.Var/(s*s)
	m.index, m.coef = index, coef
	return (t.Own/s - mean) / math.Sqrt(variance)
}

// belief reads mean and covariance of all θ, in points.
func (m *model) belief() Belief {
	n, f, d, s := m.p.Robots, m.filter, m.drift(), m.p.Scale
	b := Belief{Mean: make([]float64, n), Cov: mat.NewSymDense(n, nil)}
	for i := range n {
		b.Mean[i] = s * m.strength(i)
		for j := i; j < n; j++ {
			v := f.Cov(i, j) + m.time*(f.Cov(i, d)+f.Cov(j, d)) + m.time*m.time*f.Cov(d, d)
			b.Cov.SetSym(i, j, s*s*v)
		}
	}
	return b
}

// MatchVar is Var e in points² of a robot of the given strength (points, when
// nothing stops it) with exposure w.
func (fit *Fit) MatchVar(strength, w float64) float64 {
	return fit.Scale * fit.Scale * matchVar(&fit.Components, strength/fit.Scale) * w
}

// Partners is the correlation of the luck of two robots of an alliance.
func (fit *Fit) Partners() float64 { return fit.Components[Partners] }

// WalkVar is what a robot's variance gains before a match, points².
func (fit *Fit) WalkVar() float64 { return square(fit.Scale * fit.Components[Walk]) }

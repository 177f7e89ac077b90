package contrib

import (
	"errors"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"

	"sextant/stats/contrib/fused"
	"sextant/stats/game"
	"sextant/stats/record"
)

// ErrNoData says that there is nothing to estimate from: no match has a
// result, no scout's record has points, and nothing is known from before.
var ErrNoData = errors.New("no match has a result and no record has points yet: there is nothing to estimate from")

// PriorError says what is wrong with Options.Prior.
type PriorError struct{ Err error }

func (e *PriorError) Error() string { return "earlier estimates: " + e.Err.Error() }
func (e *PriorError) Unwrap() error { return e.Err }

// Options change how an estimate is made. The zero value is the usual.
type Options struct {
	// Components, if not nil, are used as they are instead of being estimated;
	// see Fit.Components.
	Components *Components
	// Prior is what an earlier event of the same season found (its working and
	// now_sd); nil: that of the event, if any. Robots are taken to have changed since.
	Prior *record.Estimate
}

// Fit is an estimate with everything that a forecast needs. It does not change
// once made and may be read from several goroutines; the event that it was made
// from must not change while it is in use.
type Fit struct {
	teams      []record.TeamID
	index      map[record.TeamID]int
	size       int
	mean       []float64     // expected points in the next match
	cov        *mat.SymDense // of mean
	exposure   *exposure
	fused      *fused.Fit
	layout     *layout
	components Components
	foulMean   float64
	foulVar    float64
	game       *game.Game
	estimate   func() record.Estimate // made on first use: a forecast does not need it
	actions    func() []map[string]record.ActionEstimate
	parts      func() []*Part
}

// Estimate tells what each robot of ev adds to its own alliance's score.
// Matches without a result are schedule only. The order of ev's slices does
// not matter beyond rounding. ErrNoData and *PriorError are the errors that a
// caller can act on; another error means that the numbers of ev are so extreme
// that the model cannot be solved.
func Estimate(ev *record.Event, opt Options) (*Fit, error) {
	e := newEvidence(ev)
	prior, err := e.earlier(opt.Prior)
	if err != nil {
		return nil, &PriorError{err}
	}
	if opt.Prior == nil {
		// What an event has brought along is used as far as it fits: its team list
		// may have changed since.
		if prior, err = e.earlier(ev.Prior); err != nil {
			prior = nil
		}
	}
	x := e.expose()
	l, ok := e.lay(x, prior)
	if !ok {
		return nil, ErrNoData
	}
	f, err := l.fuse(e.teams, opt.Components)
	if err != nil {
		return nil, err
	}
	n := len(e.teams)
	fit := &Fit{
		teams: e.teams, index: e.index, size: e.size, exposure: x, fused: f, layout: l,
		components: Components{values: f.Components, spread: map[string]float64{}, tail: map[record.TeamID]float64{}},
		foulMean:   e.foulMean, foulVar: e.foulVar,
		mean: make([]float64, n), cov: mat.NewSymDense(n, nil),
	}
	for k, s := range l.scouts {
		fit.components.spread[s] = f.Spread[k]
	}
	for i := range n {
		fit.components.tail[e.teams[i]] = f.Tail[i]
		fit.mean[i] = x.mean[i] * f.Now.Mean[i]
		for j := i; j < n; j++ {
			fit.cov.SetSym(i, j, stopped(x, i, j, f.Now))
		}
	}
	fit.game, fit.actions = ev.Game, sync.OnceValue(e.actions)
	fit.parts = sync.OnceValue(func() []*Part { return partsOf(ev, e) })
	fit.estimate = sync.OnceValue(func() record.Estimate { return fit.report(ev, e) })
	return fit, nil
}

// stopped is the covariance of w̄ᵢ·θᵢ and w̄ⱼ·θⱼ, what is not known of w̄ included.
func stopped(x *exposure, i, j int, theta fused.Belief) float64 {
	v := x.mean[i] * x.mean[j] * theta.Cov.At(i, j)
	if i == j {
		v += x.meanVar[i] * (square(theta.Mean[i]) + theta.Cov.At(i, i))
	}
	return v
}

func (f *Fit) report(ev *record.Event, e *evidence) record.Estimate {
	matches, by := e.played()
	watched := e.watchedMatches()
	ls := leastSquares(ev, e)
	actions, over := f.actions(), f.fused.Over()
	out := record.Estimate{Teams: make([]record.TeamEstimate, len(e.teams))}
	for i, t := range e.teams {
		out.Teams[i] = record.TeamEstimate{
			Team: t, Matches: by[i], Watched: watched[i],
			Points: f.exposure.mean[i] * over.Mean[i],
			SD:     math.Sqrt(stopped(f.exposure, i, i, over)),
			Now:    f.mean[i], NowSD: math.Sqrt(f.cov.At(i, i)),
			Working: f.fused.Now.Mean[i], Stops: f.exposure.stops[i],
			Actions: actions[i], LeastSquares: ls[i],
		}
	}
	out.Fit = f.tell(matches)
	return out
}

// tell is the fit report.
func (f *Fit) tell(matches int) record.Fit {
	method := "state space on totals"
	if f.layout.records > 0 {
		method = "state space on totals and records"
	}
	components := map[string]float64{}
	for k, p := range fused.Priors {
		components[p.Name] = f.fused.Components[k] * f.fused.Scale
	}
	components[fused.Priors[fused.Partners].Name] = f.fused.Components[fused.Partners] // a correlation
	priors := map[string]record.ComponentPrior{}
	for k, p := range fused.Priors {
		median := p.Median * f.fused.Scale
		if k == fused.Partners {
			median = p.Median
		}
		priors[p.Name] = record.ComponentPrior{Median: median, SD: p.SD, SDAfter: f.fused.PosteriorSD[k], Reason: p.Reason}
	}
	out := record.Fit{
		Method: method, Matches: matches, Rows: f.fused.Rows, Records: f.layout.records,
		LogLikelihood: f.fused.LogLikelihood, Components: components, Priors: priors,
		Outliers: f.fused.Outliers, Rest: f.fused.RestMean, Capped: f.layout.capped, Widened: f.fused.Calibration,
	}
	if n := f.layout.playoffs; n > 0 {
		mean, sd := f.Shift()
		out.Playoffs = &record.PlayoffShift{Mean: mean, SD: sd, Matches: n}
	}
	if f.layout.seen > 0 {
		share := f.layout.told / f.layout.seen
		out.Explained = &share
	}
	for k, name := range f.layout.scouts {
		if f.layout.recordsOf[k] == 0 {
			continue
		}
		out.Scouts = append(out.Scouts, record.Scout{
			Scout: name, Records: f.layout.recordsOf[k],
			Bias: f.fused.Bias[k], BiasSD: f.fused.BiasSD[k], Spread: math.Sqrt(f.fused.Spread[k]),
		})
	}
	return out
}

// watchedMatches counts, by robot, the plays with at least one record.
func (e *evidence) watchedMatches() []int {
	out := make([]int, len(e.teams))
	for i := range e.sides {
		last := -1
		for _, v := range e.sides[i].views {
			if v.robot != last {
				out[v.robot]++
				last = v.robot
			}
		}
	}
	return out
}

// Record is the estimate as the command line and the API give it: teams in
// order of number, which is the order of their indices; every number finite. The
// list of teams is the caller's to sort; what each of them points to is shared.
func (f *Fit) Record() record.Estimate {
	out := f.estimate()
	out.Teams = slices.Clone(out.Teams)
	return out
}

// Components are the variance components that the estimate used.
func (f *Fit) Components() Components { return f.components }

// Teams are the robots in the order of their indices. It must not be changed.
func (f *Fit) Teams() []record.TeamID { return f.teams }

// Index is the index of a robot; false: the event does not have it.
func (f *Fit) Index(t record.TeamID) (int, bool) {
	i, ok := f.index[t]
	return i, ok
}

// Size is the number of robots of a full alliance.
func (f *Fit) Size() int { return f.size }

// Mean is what robot i is expected to add to its alliance's score in its next
// match, in points, stops and absences taken into account.
func (f *Fit) Mean(i int) float64 { return f.mean[i] }

// Cov is the covariance, in points², of what is not known of Mean(i) and Mean(j).
func (f *Fit) Cov(i, j int) float64 { return f.cov.At(i, j) }

// MatchVariance is the variance, in points², of what an alliance of the given
// robots scores in one match around the sum of their Mean and the rest, points
// by fouls left out: luck, which grows with a robot's strength and is
// correlated among partners, stops, what robots may have changed since their
// last match, and the rest; all times what forecasts of this event so far were
// too narrow or too wide by.
func (f *Fit) MatchVariance(robots ...int) float64 {
	var sum, root, stops float64
	for _, i := range robots {
		strength := math.Max(0, f.fused.Now.Mean[i])
		luck := f.fused.MatchVar(strength, f.exposure.mean[i])
		sum += luck
		root += math.Sqrt(luck)
		stops += f.exposure.variance * square(strength)
	}
	return f.fused.Calibration * (sum + f.fused.Partners()*(root*root-sum) + stops + float64(len(robots))*f.fused.WalkVar() + square(f.fused.RestSD))
}

// Rest is what an alliance of so many robots is expected to score in one match
// beyond its robots, in points.
func (f *Fit) Rest(robots int) float64 {
	return f.fused.RestMean * float64(robots) / float64(f.size)
}

// Shift is how much more all robots do in playoffs, as a share (−0.06: 6 % less),
// and the standard deviation of what is not known of it. Mean, Cov and the other
// figures are those of a qualification match.
func (f *Fit) Shift() (mean, sd float64) {
	return math.Max(f.fused.Shift, -0.9), f.fused.ShiftSD
}

// Fouls are mean and variance of the points that an alliance receives by the
// opponent's fouls in one match.
func (f *Fit) Fouls() (mean, variance float64) { return f.foulMean, f.foulVar }

// Skew is the skewness of the official totals around what was known before
// each match, and how many totals tell so.
func (f *Fit) Skew() (skew, totals float64) { return f.fused.Skew, float64(len(f.fused.Totals)) }

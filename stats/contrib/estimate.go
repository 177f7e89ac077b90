package contrib

import (
	"errors"
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"

	"sextant/stats/record"
)

// How a robot's match-to-match variance follows its strength: a share that does
// not, and the strength, in means of all robots, below which it falls no more.
const (
	varianceFloor = 0.12
	minStrength   = 0.15
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
	// now_sd); nil: nothing. Robots are taken to have changed since.
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
	working    []float64
	scale      float64 // mean strength of the robots
	exposure   *exposure
	components Components
	foulMean   float64
	foulVar    float64
	estimate   func() record.Estimate // made on first use: a forecast does not need it
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
	x := e.expose()
	f, err := fuse(e, x, prior, opt.Components)
	if err != nil {
		return nil, err
	}
	n := len(e.teams)
	fit := &Fit{
		teams: e.teams, index: e.index, size: e.size, working: f.now, exposure: x,
		components: f.components, foulMean: e.foulMean, foulVar: e.foulVar,
		mean: make([]float64, n), cov: mat.NewSymDense(n, nil),
	}
	for i := range n {
		fit.mean[i] = x.mean[i] * f.now[i]
		for j := i; j < n; j++ {
			fit.cov.SetSym(i, j, stopped(x, i, j, f.now, f.nowCov))
		}
	}
	fit.scale = addUp(f.now) / float64(n)
	fit.estimate = sync.OnceValue(func() record.Estimate { return fit.report(ev, e, f) })
	return fit, nil
}

// stopped is the covariance of w̄ᵢ·θᵢ and w̄ⱼ·θⱼ, what is not known of w̄ included.
func stopped(x *exposure, i, j int, theta []float64, cov *mat.SymDense) float64 {
	v := x.mean[i] * x.mean[j] * cov.At(i, j)
	if i == j {
		v += x.meanVar[i] * (square(theta[i]) + cov.At(i, i))
	}
	return v
}

func (f *Fit) report(ev *record.Event, e *evidence, r *fused) record.Estimate {
	matches, by := e.played()
	watched := e.watchedMatches()
	ls := leastSquares(ev, e)
	actions := e.actions()
	out := record.Estimate{Teams: make([]record.TeamEstimate, len(e.teams))}
	for i, t := range e.teams {
		out.Teams[i] = record.TeamEstimate{
			Team: t, Matches: by[i], Watched: watched[i],
			Points: f.exposure.mean[i] * r.event[i],
			SD:     math.Sqrt(stopped(f.exposure, i, i, r.event, r.eventCov)),
			Now:    f.mean[i], NowSD: math.Sqrt(f.cov.At(i, i)),
			Working: r.now[i], Stops: f.exposure.stops[i],
			Actions: actions[i], LeastSquares: ls[i],
		}
	}
	method := "mixed model on totals"
	if r.records > 0 {
		method = "mixed model on totals and records"
	}
	c := r.components
	out.Fit = record.Fit{
		Method: method, Matches: matches, Rows: r.rows, Records: r.records, LogLikelihood: r.logLik,
		Components: map[string]float64{"robot": c.Robot, "match": c.Match, "record": c.Record, "rest": c.Rest, "luck": math.Sqrt(c.luck(f.size))},
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
// order of number, every number finite.
func (f *Fit) Record() record.Estimate { return f.estimate() }

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
// robots scores in one match around the sum of their Mean, points by fouls left
// out. Counts vary the more the larger they are: all but a floor of it is in
// proportion to each robot's strength, such that the mean of all robots has the
// σ of the fit. Stops and absences are in it.
func (f *Fit) MatchVariance(robots ...int) float64 {
	w := make([]float64, len(robots))
	var stops float64
	for k, i := range robots {
		w[k] = f.exposure.mean[i]
		if f.scale > 0 {
			w[k] *= varianceFloor + (1-varianceFloor)*math.Max(f.working[i], minStrength*f.scale)/f.scale
		}
		stops += f.exposure.variance * square(f.working[i])
	}
	return f.components.allianceVariance(w, f.size) + stops
}

// Fouls are mean and variance of the points that an alliance receives by the
// opponent's fouls in one match.
func (f *Fit) Fouls() (mean, variance float64) { return f.foulMean, f.foulVar }

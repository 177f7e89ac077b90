package contrib

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"sextant/stats/record"
)

// The estimators that a backtest can put side by side.
const (
	EstimatorFused        = "fused"         // totals and records together: the estimate of the program
	EstimatorMixed        = "mixed"         // mixed model on totals
	EstimatorLeastSquares = "least_squares" // plain least squares on totals
	EstimatorAverages     = "averages"      // raw averages of what scouts wrote down
)

// Estimators are the names of all estimators.
func Estimators() []string {
	return []string{EstimatorFused, EstimatorMixed, EstimatorLeastSquares, EstimatorAverages}
}

// Baseline is what a simpler estimator says, in the form that a forecast
// reads. It stands beside the estimate for comparison and is never mixed with it.
type Baseline struct {
	teams             []record.TeamID
	index             map[record.TeamID]int
	size              int
	mean              []float64
	cov               *mat.SymDense
	noise             float64 // variance of a full alliance's total around the sum, points²
	logLik            float64
	tau2              float64
	foulMean, foulVar float64
}

// NewBaseline makes the named estimator's answer, one of Estimators but
// EstimatorFused. ErrNoData: it has nothing to work with.
func NewBaseline(ev *record.Event, name string) (*Baseline, error) {
	e := newEvidence(ev)
	totals := e.totals()
	n := len(e.teams)
	if len(totals) == 0 || n == 0 {
		return nil, ErrNoData
	}
	b := &Baseline{
		teams: e.teams, index: e.index, size: e.size, foulMean: e.foulMean, foulVar: e.foulVar,
		mean: make([]float64, n), cov: mat.NewSymDense(n, nil),
	}
	switch name {
	case EstimatorMixed:
		return b, b.mixed(totals)
	case EstimatorLeastSquares:
		b.leastSquares(totals)
		return b, nil
	case EstimatorAverages:
		return b, b.averages(e, totals)
	}
	return nil, fmt.Errorf("%q is no baseline; there are %v", name, Estimators()[1:])
}

// mixed is the second layer: REML, then best linear unbiased predictions.
func (b *Baseline) mixed(totals []total) error {
	n := len(b.teams)
	tau2, sigma2, err := reml(totals, n, b.size, robotScale(totals))
	if err != nil {
		return err
	}
	s := newSystem(n)
	for _, t := range totals {
		k := float64(len(t.robots)) / float64(b.size)
		row := make([]float64, len(t.robots))
		for i := range row {
			row[i] = 1
		}
		s.add(&block{cols: t.robots, h: [][]float64{row}, x: []float64{k}, y: []float64{t.own}, v: [][]float64{{sigma2 * k}}})
	}
	g := make([]float64, n)
	for i := range g {
		g[i] = tau2
	}
	p, err := s.solve(g)
	if err != nil {
		return err
	}
	l, d := mat.NewDense(n, n, nil), make([]float64, n)
	for i := range n {
		l.Set(i, i, 1)
		d[i] = 1 / float64(b.size)
	}
	b.mean, b.cov = p.project(l, d)
	b.noise, b.tau2, b.logLik = sigma2, tau2, p.logLik
	return nil
}

// leastSquares is the first layer with the points by fouls left out. A robot
// that is not determined yet counts as the mean of all robots, with the spread
// of a single robot's share.
func (b *Baseline) leastSquares(totals []total) {
	n, m := len(b.teams), len(totals)
	x, y := mat.NewDense(m, n, nil), make([]float64, m)
	var mean, spread float64
	for i, t := range totals {
		for _, r := range t.robots {
			x.Set(i, r, 1)
		}
		y[i] = t.own
		mean += t.own / float64(len(t.robots)) / float64(m)
	}
	for _, t := range totals {
		spread += square(t.own-mean*float64(len(t.robots))) / float64(m)
	}
	f := newFactor(x)
	got := f.solve(y)
	b.noise = spread
	if m > f.rank {
		b.noise = got.rss / float64(m-f.rank)
	}
	for i := range n {
		b.mean[i] = mean
		b.cov.SetSym(i, i, spread/float64(b.size))
		if f.determined[i] {
			b.mean[i] = got.coef[i]
			b.cov.SetSym(i, i, 0)
		}
	}
	var normal mat.SymDense
	normal.SymOuterK(1, x.T())
	var chol mat.Cholesky
	var inverse mat.SymDense
	if f.rank == n && chol.Factorize(&normal) && chol.InverseTo(&inverse) == nil {
		b.cov.ScaleSym(b.noise, &inverse)
	}
}

// averages is what a team does with a spreadsheet: each robot's mean of the
// points that scouts counted, an absent robot as 0; the mean of all where a
// robot has no record.
func (b *Baseline) averages(e *evidence, totals []total) error {
	w := e.worth()
	n := make([]float64, len(b.teams))
	var all, count float64
	for i := range e.sides {
		for _, v := range e.sides[i].views {
			z, _, ok := w.points(v.obs, nil)
			if !ok && !v.obs.Absent {
				continue
			}
			b.mean[v.robot] += z
			n[v.robot]++
			all += z
			count++
		}
	}
	if count == 0 {
		return ErrNoData
	}
	for r := range b.mean {
		if n[r] > 0 {
			b.mean[r] /= n[r]
		} else {
			b.mean[r] = all / count
		}
	}
	for _, t := range totals {
		off := t.own
		for _, r := range t.robots {
			off -= b.mean[r]
		}
		b.noise += off * off / float64(len(totals))
	}
	return nil
}

// Teams are the robots in the order of their indices. It must not be changed.
func (b *Baseline) Teams() []record.TeamID { return b.teams }

// Index is the index of a robot; false: the event does not have it.
func (b *Baseline) Index(t record.TeamID) (int, bool) {
	i, ok := b.index[t]
	return i, ok
}

// Mean is what robot i adds to its alliance's score in a match, in points.
func (b *Baseline) Mean(i int) float64 { return b.mean[i] }

// Cov is the covariance, in points², of what is not known of Mean(i) and Mean(j).
func (b *Baseline) Cov(i, j int) float64 { return b.cov.At(i, j) }

// MatchVariance is the variance, in points², of an alliance's score around the
// sum of its robots' Mean, points by fouls left out.
func (b *Baseline) MatchVariance(robots ...int) float64 {
	return b.noise * float64(len(robots)) / float64(b.size)
}

// Rest is 0: a baseline gives all points to robots.
func (b *Baseline) Rest(int) float64 { return 0 }

// Fouls are mean and variance of the points that an alliance receives by the
// opponent's fouls in one match.
func (b *Baseline) Fouls() (mean, variance float64) { return b.foulMean, b.foulVar }

// Skew is not known to a baseline.
func (b *Baseline) Skew() (skew, totals float64) { return 0, 0 }

// sd is the standard deviation of Mean(i).
func (b *Baseline) sd(i int) float64 { return math.Sqrt(b.cov.At(i, i)) }

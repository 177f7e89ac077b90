package contrib

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// crossed is a mixed model with several kinds of random effects, each with a
// variance of its own:
//
//	y = μ + Σ u + e,   u of kind f ~ N(0, τ²_f),   e ~ N(0, σ²)
//
// where every row names the effects that it adds up: a robot and the scout who
// watched it, say, or three own robots and three opponents.
type crossed struct {
	kind []int // of each effect, from 0
	sys  *system
}

// newCrossed takes the number of effects of each kind; effects are numbered
// through, those of the first kind first.
func newCrossed(sizes ...int) *crossed {
	c := &crossed{}
	for f, n := range sizes {
		for range n {
			c.kind = append(c.kind, f)
		}
	}
	c.sys = newSystem(len(c.kind))
	return c
}

// add takes in one row: the sum of the named effects, each once, was y.
func (c *crossed) add(y float64, effects ...int) {
	ones := make([]float64, len(effects))
	for i := range ones {
		ones[i] = 1
	}
	c.sys.add(&block{cols: effects, h: [][]float64{ones}, x: []float64{1}, y: []float64{y}, v: [][]float64{{1}}})
}

// crossedFit is what fit found. The posterior's variances are in units of σ².
type crossedFit struct {
	tau2      []float64 // by kind; 0 is a legal answer
	sigma2    float64
	criterion float64 // −2 log restricted likelihood, constants included
	*posterior
}

// fit estimates the variances by restricted maximum likelihood. With γ = τ²/σ²
// and σ² profiled out, −2 log L_R is
//
//	log|M| + log xᵀWx + (rows − 1)·(1 + log(2π·Q/(rows − 1)))
//
// (M, W and Q as in system.solve with V = I), minimised in θ = √γ as by Bates,
// Mächler, Bolker and Walker (2015, doi:10.18637/jss.v067.i01): the criterion is
// even in θ, so that no bound is needed. ErrNoData: fewer than two rows.
func (c *crossed) fit() (*crossedFit, error) {
	if c.sys.rows < 2 {
		return nil, ErrNoData
	}
	kinds := c.kind[len(c.kind)-1] + 1
	problem := optimize.Problem{
		Func: func(theta []float64) float64 { v, _ := c.criterion(theta, nil); return v },
		Grad: func(grad, theta []float64) { c.criterion(theta, grad) },
	}
	best, bestValue := make([]float64, kinds), math.Inf(1)
	for _, at := range []float64{1, 0.2} { // it can have two minima
		start := make([]float64, kinds)
		for f := range start {
			start[f] = at
		}
		// A line search that finds nothing better near a minimum says so with an
		// error; what it got to is polished below and compared.
		got, _ := optimize.Minimize(problem, start, &optimize.Settings{GradientThreshold: 1e-6}, &optimize.BFGS{})
		if got == nil {
			continue
		}
		theta := c.polish(got.X)
		for f := range theta {
			theta[f] = math.Abs(theta[f])
			without := append([]float64(nil), theta...)
			without[f] = 0
			here, _ := c.criterion(theta, nil)
			if v, _ := c.criterion(without, nil); theta[f] < 1e-2 && v <= here+1e-9 {
				theta = without
			}
		}
		if v, _ := c.criterion(theta, nil); v < bestValue {
			best, bestValue = theta, v
		}
	}
	if math.IsInf(bestValue, 1) {
		return nil, errSingular
	}
	p, err := c.sys.solve(c.ratios(best))
	if err != nil {
		return nil, err
	}
	out := &crossedFit{posterior: p, criterion: bestValue, sigma2: c.residual(best)}
	for _, t := range best {
		out.tau2 = append(out.tau2, t*t*out.sigma2)
	}
	return out, nil
}

// ratios is γ of every effect.
func (c *crossed) ratios(theta []float64) []float64 {
	g := make([]float64, len(c.kind))
	for i, f := range c.kind {
		g[i] = theta[f] * theta[f]
	}
	return g
}

// residual is σ² for the ratios: Q/(rows − 1).
func (c *crossed) residual(theta []float64) float64 {
	chol, root, err := c.sys.factorize(c.ratios(theta))
	if err != nil {
		return math.NaN()
	}
	xwx, xwy, ywy, _, _ := c.sys.weigh(chol, root)
	return (ywy - xwy*xwy/xwx) / float64(c.sys.rows-1)
}

// criterion is −2 log L_R, and its gradient by θ in grad unless that is nil.
// With M⁻¹'s block of a kind, û and g as in system.solve,
//
//	d/dlog γ = effects − tr M⁻¹ − Σ g²/(γ·xᵀWx) − (rows − 1)/Q·Σ û²/γ.
func (c *crossed) criterion(theta, grad []float64) (float64, error) {
	chol, root, err := c.sys.factorize(c.ratios(theta))
	if err != nil {
		return math.NaN(), err
	}
	xwx, xwy, ywy, chx, chy := c.sys.weigh(chol, root)
	df := float64(c.sys.rows - 1)
	q := ywy - xwy*xwy/xwx
	value := chol.LogDet() + math.Log(xwx) + df*(1+math.Log(2*math.Pi*q/df))
	if grad == nil {
		return value, nil
	}
	var inverse mat.SymDense
	_ = chol.InverseTo(&inverse) // an ill-conditioned M is a warning: its smallest eigenvalue is 1
	clear(grad)
	for i, f := range c.kind {
		if root[i] == 0 {
			continue // the criterion is even there
		}
		u := (chy[i] - chx[i]*xwy/xwx) / root[i]
		grad[f] += (1 - inverse.At(i, i) - square(chx[i]/root[i])/xwx - df/q*u*u) * 2 / theta[f]
	}
	return value, nil
}

// polish takes Newton steps, with the gradient's differences as second
// derivatives: a search by values alone stops at half of the digits.
func (c *crossed) polish(theta []float64) []float64 {
	n := len(theta)
	theta = append([]float64(nil), theta...)
	size := func(g []float64) float64 { return mat.Norm(mat.NewVecDense(n, g), 2) }
	at, next, side := make([]float64, n), make([]float64, n), make([]float64, n)
	if _, err := c.criterion(theta, at); err != nil {
		return theta
	}
	for range 8 {
		h := mat.NewDense(n, n, nil)
		for f := range n {
			d := 1e-5 * math.Max(math.Abs(theta[f]), 1e-3)
			to := append([]float64(nil), theta...)
			to[f] += d
			_, _ = c.criterion(to, next)
			to[f] -= 2 * d
			_, _ = c.criterion(to, side)
			for k := range n {
				h.Set(k, f, (next[k]-side[k])/(2*d))
			}
		}
		var step mat.VecDense
		if step.SolveVec(h, mat.NewVecDense(n, at)) != nil {
			break
		}
		to := make([]float64, n)
		for f := range n {
			to[f] = theta[f] - step.AtVec(f)
		}
		if _, err := c.criterion(to, next); err != nil || !(size(next) < size(at)) {
			break // rounding is all that is left
		}
		theta = to
		copy(at, next)
	}
	return theta
}

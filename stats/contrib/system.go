package contrib

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// system gathers what linear observations say about robots. The model is
//
//	y = x·μ + H·u + e,   u ~ N(0, G) with G diagonal,   e ~ N(0, V),
//
// with a flat prior on the single mean μ and V of independent blocks (one
// block an alliance and match). Only sums over blocks are kept, so the cost of
// a solution does not grow with the number of matches.
type system struct {
	a          *mat.SymDense // Hᵀ·V⁻¹·H, one row an effect
	hx, hy     []float64     // Hᵀ·V⁻¹·x, Hᵀ·V⁻¹·y
	xx, xy, yy float64       // xᵀ·V⁻¹·x, …
	logDet     float64       // log|V|
	rows       int
}

func newSystem(effects int) *system {
	return &system{a: mat.NewSymDense(effects, nil), hx: make([]float64, effects), hy: make([]float64, effects)}
}

// block is a few observations whose errors are dependent. Its columns are the
// effects that it touches.
type block struct {
	cols []int       // effects, each once
	h    [][]float64 // one row an observation, in the order of cols
	x, y []float64
	v    [][]float64 // covariance of the errors; only the lower triangle is read
}

// add takes a block in; it overwrites h, x, y and v (each row is divided by the
// Cholesky factor of v). v must be positive definite, which holds as every
// observation has noise of its own.
func (s *system) add(b *block) {
	k := len(b.y)
	for i := range k {
		for j := range i + 1 {
			d := b.v[i][j]
			for l := range j {
				d -= b.v[i][l] * b.v[j][l]
			}
			if i == j {
				b.v[i][i] = math.Sqrt(d)
			} else {
				b.v[i][j] = d / b.v[j][j]
			}
		}
	}
	data, stride := s.a.RawSymmetric().Data, s.a.RawSymmetric().Stride
	for i := range k {
		h, x, y := b.h[i], b.x[i], b.y[i]
		for l := range i {
			c := b.v[i][l]
			for q := range h {
				h[q] -= c * b.h[l][q]
			}
			x -= c * b.x[l]
			y -= c * b.y[l]
		}
		c := b.v[i][i]
		for q := range h {
			h[q] /= c
		}
		x, y = x/c, y/c
		b.x[i], b.y[i] = x, y
		s.logDet += 2 * math.Log(c)
		s.xx += x * x
		s.xy += x * y
		s.yy += y * y
		for q, col := range b.cols {
			if h[q] == 0 {
				continue
			}
			s.hx[col] += h[q] * x
			s.hy[col] += h[q] * y
			for p, other := range b.cols[:q+1] {
				lo, hi := min(col, other), max(col, other)
				data[lo*stride+hi] += h[q] * h[p] // the upper triangle is kept
			}
		}
	}
	s.rows += k
}

// posterior is the solution of a system: the best linear unbiased predictor.
type posterior struct {
	mu, muVar float64       // the mean and its variance
	u         []float64     // BLUP of the effects
	c         *mat.SymDense // Var(u − û) with μ known
	g         []float64     // Var(u − û) with μ unknown is c + muVar·g·gᵀ, Cov(u − û, μ̂ − μ) is −muVar·g
	logLik    float64       // restricted log likelihood (REML)
}

var errSingular = errors.New("the variance components leave the estimate undetermined: a variance is negative, infinite or not a number")

// solve finds the posterior for prior variances g (G's diagonal, zeros
// allowed). With M = I + G½·(Hᵀ·V⁻¹·H)·G½ and C = G½·M⁻¹·G½ (Henderson 1975,
// doi:10.2307/2529430; Robinson 1991, doi:10.1214/ss/1177011926, whose mixed
// model equations these are, written so that G may be singular):
//
//	W  = (V + H·G·Hᵀ)⁻¹ = V⁻¹ − V⁻¹·H·C·Hᵀ·V⁻¹
//	μ̂  = xᵀWy / xᵀWx,  Var μ̂ = 1 / xᵀWx
//	û  = C·Hᵀ·V⁻¹·(y − x·μ̂)
//	Var(u − û) = C + g·gᵀ·Var μ̂,  g = C·Hᵀ·V⁻¹·x
//	−2 log L_R = log|V| + log|M| + log xᵀWx + (y − xμ̂)ᵀW(y − xμ̂) + (rows − 1)·log 2π
func (s *system) solve(g []float64) (*posterior, error) {
	chol, root, err := s.factorize(g)
	if err != nil {
		return nil, err
	}
	n := len(g)
	p := &posterior{u: make([]float64, n), g: make([]float64, n), c: mat.NewSymDense(n, nil)}
	if err := chol.InverseTo(p.c); err != nil {
		var cond mat.Condition // only a warning: M has no eigenvalue below 1
		if !errors.As(err, &cond) {
			return nil, errSingular
		}
	}
	for i := range n {
		for j := i; j < n; j++ {
			p.c.SetSym(i, j, p.c.At(i, j)*root[i]*root[j])
		}
	}
	xwx, xwy, ywy, chx, chy := s.weigh(chol, root)
	p.mu, p.muVar = xwy/xwx, 1/xwx
	copy(p.g, chx)
	for i := range n {
		p.u[i] = chy[i] - chx[i]*p.mu
	}
	p.logLik = -(s.logDet + chol.LogDet() + math.Log(xwx) + ywy - xwy*p.mu + float64(s.rows-1)*math.Log(2*math.Pi)) / 2
	if math.IsNaN(p.logLik) || math.IsInf(p.logLik, 0) {
		return nil, errSingular
	}
	return p, nil
}

// logLikelihood is posterior.logLik without the rest; NaN where solve fails.
func (s *system) logLikelihood(g []float64) float64 {
	chol, root, err := s.factorize(g)
	if err != nil {
		return math.NaN()
	}
	xwx, xwy, ywy, _, _ := s.weigh(chol, root)
	return -(s.logDet + chol.LogDet() + math.Log(xwx) + ywy - xwy*xwy/xwx + float64(s.rows-1)*math.Log(2*math.Pi)) / 2
}

func (s *system) factorize(g []float64) (*mat.Cholesky, []float64, error) {
	n := len(g)
	root := make([]float64, n)
	for i, v := range g {
		root[i] = math.Sqrt(v)
	}
	m := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			v := s.a.At(i, j) * root[i] * root[j]
			if i == j {
				v++
			}
			m.SetSym(i, j, v)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(m) {
		return nil, nil, errSingular
	}
	return &chol, root, nil
}

// weigh returns xᵀWx, xᵀWy, yᵀWy and C·Hᵀ·V⁻¹·x, C·Hᵀ·V⁻¹·y.
func (s *system) weigh(chol *mat.Cholesky, root []float64) (xwx, xwy, ywy float64, chx, chy []float64) {
	n := len(root)
	half := mat.NewDense(n, 2, nil)
	for i := range n {
		half.Set(i, 0, root[i]*s.hx[i])
		half.Set(i, 1, root[i]*s.hy[i])
	}
	var sol mat.Dense
	// An ill-conditioned M is a warning here, not a failure: its smallest
	// eigenvalue is 1.
	_ = chol.SolveTo(&sol, half)
	chx, chy = make([]float64, n), make([]float64, n)
	xwx, xwy, ywy = s.xx, s.xy, s.yy
	for i := range n {
		chx[i], chy[i] = root[i]*sol.At(i, 0), root[i]*sol.At(i, 1)
		xwx -= s.hx[i] * chx[i]
		xwy -= s.hx[i] * chy[i]
		ywy -= s.hy[i] * chy[i]
	}
	return xwx, xwy, ywy, chx, chy
}

// project returns mean and covariance of the linear forms t·u + d·μ, one row
// of t (k×effects) and one entry of d a form.
func (p *posterior) project(t *mat.Dense, d []float64) ([]float64, *mat.SymDense) {
	k, _ := t.Dims()
	mean, rest := make([]float64, k), make([]float64, k)
	u, g := mat.NewVecDense(len(p.u), p.u), mat.NewVecDense(len(p.g), p.g)
	for i := range k {
		mean[i] = mat.Dot(t.RowView(i), u) + d[i]*p.mu
		rest[i] = d[i] - mat.Dot(t.RowView(i), g)
	}
	var tc, full mat.Dense
	tc.Mul(t, p.c)
	full.Mul(&tc, t.T())
	cov := mat.NewSymDense(k, nil)
	for i := range k {
		for j := i; j < k; j++ {
			cov.SetSym(i, j, (full.At(i, j)+full.At(j, i))/2+p.muVar*rest[i]*rest[j])
		}
	}
	return mean, cov
}

package statespace

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
)

// ErrNotPositive says that the predicted covariance of a batch is not positive
// definite: a row repeats another without noise, or a variance is negative or
// not a number.
var ErrNotPositive = errors.New("covariance of the observed rows is not positive definite")

// Filter is a Gaussian belief about n numbers. It is not safe for concurrent
// use. Update allocates nothing once its work space has grown to the largest
// batch.
type Filter struct {
	n    int
	mean []float64
	cov  []float64 // n×n row-major, upper triangle

	work
}

// work is scratch space of Update; m rows of a batch.
type work struct {
	hp    []float64 // m×n: H·P, then G
	s     []float64 // m×m: S
	l     []float64 // m×m: its lower Cholesky factor
	inv   []float64 // m×m: L⁻¹
	resid []float64 // m: L⁻¹·residual
	extra []float64 // m: variance added to outliers
	col   []float64 // n: one column of P
}

// New returns a filter for n numbers, all known to be 0.
func New(n int) *Filter {
	return &Filter{n: n, mean: make([]float64, n), cov: make([]float64, n*n), work: work{col: make([]float64, n)}}
}

// Reset makes everything known to be 0 again and keeps the memory.
func (f *Filter) Reset() {
	clear(f.mean)
	clear(f.cov)
}

// Mean returns the mean of number i.
func (f *Filter) Mean(i int) float64 { return f.mean[i] }

// SetMean sets the mean of number i.
func (f *Filter) SetMean(i int, v float64) { f.mean[i] = v }

// Cov returns the covariance of numbers i and j.
func (f *Filter) Cov(i, j int) float64 {
	if i > j {
		i, j = j, i
	}
	return f.cov[i*f.n+j]
}

// SetVar sets the variance of number i.
func (f *Filter) SetVar(i int, v float64) { f.cov[i*f.n+i] = v }

// AddVar adds v to the variance of number i: it may have changed.
func (f *Filter) AddVar(i int, v float64) { f.cov[i*f.n+i] += v }

// AddShared adds v to all variances and covariances of the numbers from lo to
// hi−1: they share an unknown shift of variance v.
func (f *Filter) AddShared(lo, hi int, v float64) {
	for i := lo; i < hi; i++ {
		for j := i; j < hi; j++ {
			f.cov[i*f.n+j] += v
		}
	}
}

// column writes column i of P to f.col.
func (f *Filter) column(i int) []float64 {
	for j := range i {
		f.col[j] = f.cov[j*f.n+i]
	}
	copy(f.col[i:], f.cov[i*f.n+i:(i+1)*f.n])
	return f.col
}

// Update takes in a batch and returns its log likelihood given all before. On
// an error the belief is unchanged.
func (f *Filter) Update(b *Batch) (float64, error) {
	return f.update(b, math.Inf(1))
}

// UpdateGuarded is Update, but a guarded row that the others and the belief
// contradict is given less weight: with d = S⁻¹·residual and t = d/√diag(S⁻¹),
// the standardised residual of the row given all the others, a guarded row
// with |t| > limit gets its leave-one-out residual squared, (d/diag S⁻¹)²,
// added to its variance, and the update is done with that. Batch.T holds the t
// of every row before any weight was taken.
func (f *Filter) UpdateGuarded(b *Batch, limit float64) (float64, error) {
	return f.update(b, limit)
}

func (f *Filter) update(b *Batch, limit float64) (float64, error) {
	m := len(b.rows)
	if m == 0 {
		return 0, nil
	}
	f.grow(m)
	f.project(b)
	clear(f.extra)
	if err := f.factor(m); err != nil {
		return 0, err
	}
	if !math.IsInf(limit, 1) {
		f.invert(m)
		again := false
		b.t, b.precision = b.t[:0], b.precision[:0]
		for k := range m {
			var d, ii float64 // (S⁻¹·residual)ₖ and (S⁻¹)ₖₖ
			for r := k; r < m; r++ {
				d += f.inv[r*m+k] * f.half(b, r)
				ii += f.inv[r*m+k] * f.inv[r*m+k]
			}
			t := d / math.Sqrt(ii)
			b.t, b.precision = append(b.t, t), append(b.precision, ii)
			if b.rows[k].guarded && math.Abs(t) > limit {
				f.extra[k] = d / ii * (d / ii)
				again = true
			}
		}
		if again {
			for k := range m {
				f.s[k*m+k] += f.extra[k]
			}
			if err := f.factor(m); err != nil {
				return 0, err
			}
		}
	}
	return f.absorb(b), nil
}

// half is element r of L⁻¹·residual.
func (f *Filter) half(b *Batch, r int) float64 {
	m := len(b.rows)
	var v float64
	for j := 0; j <= r; j++ {
		v += f.inv[r*m+j] * b.rows[j].residual
	}
	return v
}

func (f *Filter) grow(m int) {
	if cap(f.hp) < m*f.n {
		f.hp = make([]float64, m*f.n)
	}
	if cap(f.s) < m*m {
		f.s, f.l, f.inv = make([]float64, m*m), make([]float64, m*m), make([]float64, m*m)
		f.resid, f.extra = make([]float64, m), make([]float64, m)
	}
	f.hp, f.s, f.l, f.inv = f.hp[:m*f.n], f.s[:m*m], f.l[:m*m], f.inv[:m*m]
	f.resid, f.extra = f.resid[:m], f.extra[:m]
}

// project computes H·P and S.
func (f *Filter) project(b *Batch) {
	m, n := len(b.rows), f.n
	clear(f.hp)
	// Column by column of P, so that each is gathered once however many rows
	// see that number.
	b.sortSeen()
	for at := 0; at < len(b.seen); {
		i := b.seen[at].index
		col := blas64.Vector{N: n, Inc: 1, Data: f.column(i)}
		for ; at < len(b.seen) && b.seen[at].index == i; at++ {
			u := b.seen[at]
			blas64.Axpy(u.coef, col, blas64.Vector{N: n, Inc: 1, Data: f.hp[u.row*n : u.row*n+n]})
		}
	}
	clear(f.s)
	for _, u := range b.seen { // S = (H·P)·Hᵀ, lower triangle
		for k := u.row; k < m; k++ {
			f.s[k*m+u.row] += f.hp[k*n+u.index] * u.coef
		}
	}
	for k := range m {
		f.s[k*m+k] += b.rows[k].variance
	}
	cov, terms := b.noiseCov(), len(b.noise)
	for _, a := range b.shared {
		for _, c := range b.shared {
			if a.row >= c.row {
				f.s[a.row*m+c.row] += a.coef * c.coef * cov[a.index*terms+c.index]
			}
		}
	}
}

// factor writes the Cholesky factor of S to l.
func (f *Filter) factor(m int) error {
	for i := range m {
		for j := 0; j <= i; j++ {
			v := f.s[i*m+j]
			for k := range j {
				v -= f.l[i*m+k] * f.l[j*m+k]
			}
			if i != j {
				f.l[i*m+j] = v / f.l[j*m+j]
				continue
			}
			// 1e-13 of what was there: all that is left is rounding.
			if !(v > 1e-13*f.s[i*m+i]) {
				return ErrNotPositive
			}
			f.l[i*m+i] = math.Sqrt(v)
		}
	}
	return nil
}

// invert writes L⁻¹ to inv.
func (f *Filter) invert(m int) {
	for j := range m {
		f.inv[j*m+j] = 1 / f.l[j*m+j]
		for i := j + 1; i < m; i++ {
			var v float64
			for k := j; k < i; k++ {
				v -= f.l[i*m+k] * f.inv[k*m+j]
			}
			f.inv[i*m+j] = v / f.l[i*m+i]
		}
	}
}

// absorb updates mean and covariance and returns the log likelihood.
func (f *Filter) absorb(b *Batch) float64 {
	m, n := len(b.rows), f.n
	var log, square float64
	for k := range m {
		row := blas64.Vector{N: n, Inc: 1, Data: f.hp[k*n : k*n+n]}
		v := b.rows[k].residual
		for j := range k {
			l := f.l[k*m+j]
			v -= l * f.resid[j]
			if l != 0 {
				blas64.Axpy(-l, blas64.Vector{N: n, Inc: 1, Data: f.hp[j*n : j*n+n]}, row)
			}
		}
		d := f.l[k*m+k]
		f.resid[k] = v / d
		blas64.Scal(1/d, row)
		log += math.Log(d)
		square += f.resid[k] * f.resid[k]
	}
	mean := blas64.Vector{N: n, Inc: 1, Data: f.mean}
	for k := range m {
		blas64.Axpy(f.resid[k], blas64.Vector{N: n, Inc: 1, Data: f.hp[k*n : k*n+n]}, mean)
	}
	blas64.Syrk(blas.Trans, -1, blas64.General{Rows: m, Cols: n, Stride: n, Data: f.hp},
		1, blas64.Symmetric{Uplo: blas.Upper, N: n, Stride: n, Data: f.cov})
	return -0.5*(float64(m)*math.Log(2*math.Pi)+square) - log
}

// Predict returns mean and variance of Σ coef·x for indices and coefficients
// of the same length.
func (f *Filter) Predict(index []int, coef []float64) (mean, variance float64) {
	for a, i := range index {
		mean += coef[a] * f.mean[i]
		variance += coef[a] * coef[a] * f.Cov(i, i)
		for c := a + 1; c < len(index); c++ {
			variance += 2 * coef[a] * coef[c] * f.Cov(i, index[c])
		}
	}
	return mean, variance
}

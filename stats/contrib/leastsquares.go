package contrib

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// factor is a rank-revealing orthogonal factorisation of an m×n design X,
//
//	X·D·P = Q·R,
//
// Householder reflections with column pivoting (Businger and Golub 1965, doi:10.1007/BF01436084; LAPACK's geqp3).
// D scales each column by a power of two, which changes no digit of X. It serves any number of right-hand sides.
type factor struct {
	x     *mat.Dense // the design as it was given
	qr    blas64.General
	tau   []float64
	pivot []int
	scale []float64 // D, per column of X
	rank  int
	// determined[j]: the j-th unit vector lies in the row space of X, so that
	// the j-th coefficient is the same in every least-squares solution.
	determined []bool
}

// solution is one least-squares solution, min |y − X·b|.
type solution struct {
	coef []float64 // only the determined ones mean anything; the others are one choice of many
	rss  float64   // residual sum of squares
	// sd has the standard deviation of each coefficient, residual sd times the
	// root of the diagonal of (XᵀX)⁻¹; nil unless X has full column rank and
	// more rows than columns.
	sd []float64
}

// rowSpaceTolerance is how far a null vector may reach into a coefficient that
// counts as determined. Designs of 0 and 1 with a few hundred rows leave 1e-12
// of rounding there; a true entry is of the order of 1.
const rowSpaceTolerance = 1e-9

// newFactor factors x (m×n, m and n at least 1), which it keeps and does not change.
func newFactor(x *mat.Dense) *factor {
	m, n := x.Dims()
	f := &factor{x: x, scale: make([]float64, n), pivot: make([]int, n), determined: make([]bool, n)}
	f.qr = blas64.General{Rows: m, Cols: n, Stride: n, Data: make([]float64, m*n)}
	for j := range n {
		f.scale[j], f.pivot[j] = 1, -1
		if norm := mat.Norm(x.ColView(j), 2); norm > 0 {
			_, exp := math.Frexp(norm)
			f.scale[j] = math.Ldexp(1, -exp)
		}
		for i := range m {
			f.qr.Data[i*n+j] = x.At(i, j) * f.scale[j]
		}
	}
	f.tau = make([]float64, min(m, n))
	work := make([]float64, 1)
	lapack64.Geqp3(f.qr, f.pivot, f.tau, work, -1)
	work = make([]float64, int(work[0]))
	lapack64.Geqp3(f.qr, f.pivot, f.tau, work, len(work))

	// The usual cut-off: what rounding alone can leave on the diagonal of R.
	const eps = 0x1p-52
	tol := float64(max(m, n)) * eps * math.Abs(f.r(0, 0))
	for f.rank < min(m, n) && math.Abs(f.r(f.rank, f.rank)) > tol {
		f.rank++
	}
	f.findDetermined()
	return f
}

func (f *factor) r(i, j int) float64 { return f.qr.Data[i*f.qr.Stride+j] }

// findDetermined looks at the null space of X·D·P, whose basis is the columns
// of [−R₁₁⁻¹R₁₂; I]: a coefficient is determined when its row there is zero.
func (f *factor) findDetermined() {
	n := f.qr.Cols
	free := n - f.rank
	null := blas64.General{Rows: f.rank, Cols: free, Stride: max(1, free), Data: make([]float64, f.rank*max(1, free))}
	for i := range f.rank {
		for j := range free {
			null.Data[i*null.Stride+j] = f.r(i, f.rank+j)
		}
	}
	if f.rank > 0 && free > 0 {
		blas64.Trsm(blas.Left, blas.NoTrans, 1, f.upper(), null)
	}
	for i := range f.rank {
		f.determined[f.pivot[i]] = true
		for j := range free {
			if math.Abs(null.Data[i*null.Stride+j]) > rowSpaceTolerance {
				f.determined[f.pivot[i]] = false
			}
		}
	}
}

// upper is R₁₁, the leading rank×rank triangle.
func (f *factor) upper() blas64.Triangular {
	return blas64.Triangular{Uplo: blas.Upper, Diag: blas.NonUnit, N: f.rank, Stride: f.qr.Stride, Data: f.qr.Data}
}

// solve returns a least-squares solution for y (length m).
//
// The first answer is refined with residuals in twice the working precision,
// for the residual and the coefficients together (Björck 1967,
// doi:10.1007/BF01939321):
//
//	[ I  X ] [dr]   [ y − r − X·b ]
//	[ Xᵀ 0 ] [db] = [ −Xᵀ·r       ]
//
// so that what is lost to an ill-conditioned design is won back as far as the
// rounding of the design itself allows.
func (f *factor) solve(y []float64) solution {
	m, n := f.x.Dims()
	r, b := make([]float64, m), make([]float64, n)
	ry, g := make([]float64, m), make([]float64, f.rank)
	last := math.Inf(1)
	for range 12 { // three or four are usual; each gains the digits that the first answer had
		for i := range m {
			var s sum
			s.add(y[i])
			s.add(-r[i])
			for k := range f.rank {
				j := f.pivot[k]
				s.addProduct(-f.x.At(i, j), b[j])
			}
			ry[i] = s.value()
		}
		for k := range f.rank {
			var s sum
			for i := range m {
				s.addProduct(-f.x.At(i, f.pivot[k]), r[i])
			}
			g[k] = s.value() * f.scale[f.pivot[k]]
		}
		step := f.correct(ry, g)
		size := blas64.Nrm2(blas64.Vector{N: f.rank, Inc: 1, Data: step})
		if size > last/2 && !math.IsInf(last, 1) {
			break // no longer converging: rounding is all that is left
		}
		for k := range f.rank {
			b[f.pivot[k]] += step[k] * f.scale[f.pivot[k]]
		}
		for i := range m {
			r[i] += ry[i]
		}
		if last = size; size == 0 {
			break
		}
	}
	out := solution{coef: b}
	var rss sum
	for _, v := range r {
		rss.addProduct(v, v)
	}
	out.rss = rss.value()
	if f.rank == n && m > n {
		out.sd = f.deviations(math.Sqrt(out.rss / float64(m-n)))
	}
	return out
}

// correct solves the system of solve for one right-hand side: ry becomes dr,
// and the scaled and pivoted db (rank long) is returned.
func (f *factor) correct(ry, g []float64) []float64 {
	m := f.qr.Rows
	h := append([]float64(nil), g...)
	if f.rank > 0 {
		blas64.Trsv(blas.Trans, f.upper(), blas64.Vector{N: f.rank, Inc: 1, Data: h})
	}
	col := blas64.General{Rows: m, Cols: 1, Stride: 1, Data: ry}
	f.multiplyQ(blas.Trans, col)
	step := make([]float64, f.rank)
	for k := range f.rank {
		step[k] = ry[k] - h[k]
		ry[k] = h[k]
	}
	if f.rank > 0 {
		blas64.Trsv(blas.NoTrans, f.upper(), blas64.Vector{N: f.rank, Inc: 1, Data: step})
	}
	f.multiplyQ(blas.NoTrans, col)
	return step
}

func (f *factor) multiplyQ(t blas.Transpose, c blas64.General) {
	// Only the reflections that make the first rank columns count as Q.
	q := f.qr
	q.Cols = f.rank
	if f.rank == 0 {
		return
	}
	work := make([]float64, 1)
	lapack64.Ormqr(blas.Left, t, q, f.tau[:f.rank], c, work, -1)
	work = make([]float64, int(work[0]))
	lapack64.Ormqr(blas.Left, t, q, f.tau[:f.rank], c, work, len(work))
}

// deviations returns residualSD times the norms of the rows of (R·Pᵀ·D⁻¹)⁻¹.
func (f *factor) deviations(residualSD float64) []float64 {
	n := f.rank
	inv := blas64.General{Rows: n, Cols: n, Stride: n, Data: make([]float64, n*n)}
	for i := range n {
		inv.Data[i*n+i] = 1
	}
	blas64.Trsm(blas.Left, blas.NoTrans, 1, f.upper(), inv)
	sd := make([]float64, n)
	for i := range n {
		row := blas64.Vector{N: n, Inc: 1, Data: inv.Data[i*n : i*n+n]}
		sd[f.pivot[i]] = residualSD * f.scale[f.pivot[i]] * blas64.Nrm2(row)
	}
	return sd
}

// sum adds doubles and products of doubles in about twice their precision
// (Ogita, Rump, Oishi 2005, doi:10.1137/030601818, algorithms Sum2 and Dot2).
type sum struct{ hi, lo float64 }

func (s *sum) add(a float64) {
	t := s.hi + a
	z := t - s.hi
	s.lo += (s.hi - (t - z)) + (a - z)
	s.hi = t
}

func (s *sum) addProduct(a, b float64) {
	p := a * b
	s.lo += math.FMA(a, b, -p)
	s.add(p)
}

func (s *sum) value() float64 { return s.hi + s.lo }

package contrib

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

// incidence is a design of zeros and ones by the ones of each row: equation i
// has the robots cols[start[i]:start[i+1]], each once.
type incidence struct {
	robots int
	start  []int32
	cols   []int32
}

func newIncidence(robots int) *incidence {
	return &incidence{robots: robots, start: []int32{0}}
}

func (x *incidence) add(robots []int) {
	for _, r := range robots {
		x.cols = append(x.cols, int32(r))
	}
	x.start = append(x.start, int32(len(x.cols)))
}

func (x *incidence) rows() int { return len(x.start) - 1 }

func (x *incidence) row(i int) []int32 { return x.cols[x.start[i]:x.start[i+1]] }

func (x *incidence) dense() *mat.Dense {
	d := mat.NewDense(x.rows(), x.robots, nil)
	for i := range x.rows() {
		for _, j := range x.row(i) {
			d.Set(i, int(j), 1)
		}
	}
	return d
}

// denseLimit is the rows × columns² up to which a part of a schedule is
// factored: about a tenth of a second, far beyond any event. A season goes by LSQR.
const denseLimit = 1e8

// solve returns a least-squares solution for each right-hand side and which
// coefficients every solution has in common; the others mean nothing. What no
// alliance connects is solved apart.
func (x *incidence) solve(ys ...[]float64) (coefs [][]float64, determined []bool) {
	determined = make([]bool, x.robots)
	for range ys {
		coefs = append(coefs, make([]float64, x.robots))
	}
	for _, p := range x.parts() {
		own := make([][]float64, len(ys))
		for k, y := range ys {
			own[k] = make([]float64, len(p.rows))
			for i, r := range p.rows {
				own[k][i] = y[r]
			}
		}
		got, known := p.solve(own)
		for j, r := range p.robots {
			determined[r] = known[j]
			for k := range ys {
				coefs[k][r] = got[k][j]
			}
		}
	}
	return coefs, determined
}

// part is a connected part of a schedule with names of its own.
type part struct {
	x            *incidence
	rows, robots []int // what they are in the whole
}

// parts splits a schedule into what alliances connect. Robots without a match
// are in none.
func (x *incidence) parts() []part {
	root := make([]int32, x.robots)
	for j := range root {
		root[j] = int32(j)
	}
	find := func(j int32) int32 {
		for root[j] != j {
			root[j] = root[root[j]] // halves the way for the next
			j = root[j]
		}
		return j
	}
	for i := range x.rows() {
		row := x.row(i)
		for _, j := range row[min(1, len(row)):] {
			root[find(j)] = find(row[0])
		}
	}
	var out []part
	at, local := map[int32]int{}, make([]int32, x.robots)
	for j := range local {
		local[j] = -1
	}
	for i := range x.rows() {
		row := x.row(i)
		if len(row) == 0 {
			continue
		}
		k, ok := at[find(row[0])]
		if !ok {
			k = len(out)
			at[find(row[0])] = k
			out = append(out, part{x: newIncidence(0)})
		}
		p := &out[k]
		for _, j := range row {
			if local[j] < 0 {
				local[j] = int32(p.x.robots)
				p.x.robots++
				p.robots = append(p.robots, int(j))
			}
			p.x.cols = append(p.x.cols, local[j])
		}
		p.x.start = append(p.x.start, int32(len(p.x.cols)))
		p.rows = append(p.rows, i)
	}
	return out
}

func (p *part) solve(ys [][]float64) (coefs [][]float64, determined []bool) {
	m, n := float64(p.x.rows()), float64(p.x.robots)
	if m*n*n > denseLimit {
		return p.x.iterate(ys)
	}
	f := newFactor(p.x.dense())
	for _, y := range ys {
		coefs = append(coefs, f.solve(y).coef)
	}
	return coefs, f.determined
}

const (
	// Where LSQR stops: its estimate of the relative error in equations and scores.
	lsqrTolerance = 1e-12
	// How far a probe may be off in a coefficient that counts as determined.
	// Convergence leaves 1e-10; a null vector of a schedule of thousands of
	// robots reaches 1e-2 into those that it touches.
	probeTolerance = 1e-7
	probes         = 2
)

// iterate solves by LSQR with the columns scaled to length 1, and finds what is
// determined without a factorisation. From zero, LSQR tends to the solution of
// least norm, so that for y = X·g it finds g without its part in the null space
// of X: a coefficient that comes back for a g of no pattern is determined, any
// other is off by that part. What has not converged after that many iterations
// counts as not determined.
func (x *incidence) iterate(ys [][]float64) (coefs [][]float64, determined []bool) {
	s := newLSQR(x)
	determined = make([]bool, x.robots)
	for j := range determined {
		determined[j] = true
	}
	all := true
	for _, y := range ys {
		b, ok := s.solve(y)
		coefs, all = append(coefs, b), all && ok
	}
	// Numbers of no pattern, the same every time.
	noise := rand.New(rand.NewPCG(1, 2))
	g, y := make([]float64, x.robots), make([]float64, x.rows())
	for range probes {
		for j := range g {
			g[j] = noise.NormFloat64()
		}
		for i := range y {
			y[i] = 0
			for _, j := range x.row(i) {
				y[i] += g[j]
			}
		}
		// The least norm is that of the scaled unknowns, and so is the null
		// space; each coefficient is in or out of it with or without the scale.
		b, ok := s.solve(y)
		for j := range g {
			determined[j] = determined[j] && ok && all && math.Abs(b[j]-g[j]) < probeTolerance
		}
	}
	return coefs, determined
}

// lsqr is the method of Paige and Saunders (1982, doi:10.1145/355984.355989)
// for min |y − X·D·z|, b = D·z, D the reciprocal lengths of X's columns. It
// keeps its work space from one right-hand side to the next.
type lsqr struct {
	x       *incidence
	scale   []float64
	u       []float64
	v, w, z []float64
	sv      []float64 // D·v, or Xᵀ·u before D
	iters   int       // of the last solution
}

func newLSQR(x *incidence) *lsqr {
	n := x.robots
	s := &lsqr{x: x, scale: make([]float64, n), u: make([]float64, x.rows()),
		v: make([]float64, n), w: make([]float64, n), z: make([]float64, n), sv: make([]float64, n)}
	for _, j := range x.cols {
		s.scale[j]++
	}
	for j, c := range s.scale {
		if c > 0 {
			s.scale[j] = 1 / math.Sqrt(c)
		}
	}
	return s
}

// forward makes u = X·D·v − alpha·u and returns its length.
func (s *lsqr) forward(alpha float64) float64 {
	for j, v := range s.v {
		s.sv[j] = s.scale[j] * v
	}
	var norm float64
	start, cols := s.x.start, s.x.cols
	from := start[0]
	for i := range s.u {
		to := start[i+1]
		t := -alpha * s.u[i]
		for _, j := range cols[from:to] {
			t += s.sv[j]
		}
		from = to
		s.u[i] = t
		norm += t * t
	}
	return math.Sqrt(norm)
}

// back makes v = D·Xᵀ·u/beta − beta·v and u = u/beta, and returns v's length.
func (s *lsqr) back(beta float64) float64 {
	clear(s.sv)
	start, cols := s.x.start, s.x.cols
	from := start[0]
	inverse := 1 / beta
	for i, t := range s.u {
		t *= inverse
		s.u[i] = t
		to := start[i+1]
		for _, j := range cols[from:to] {
			s.sv[j] += t
		}
		from = to
	}
	var norm float64
	for j, v := range s.v {
		v = s.scale[j]*s.sv[j] - beta*v
		s.v[j] = v
		norm += v * v
	}
	return math.Sqrt(norm)
}

// solve is the algorithm of the paper, section 4, with its rules to stop. The
// false answer: it had not converged after 4·n + 100 iterations (n are enough
// without rounding).
func (s *lsqr) solve(y []float64) ([]float64, bool) {
	n := s.x.robots
	clear(s.v)
	clear(s.z)
	copy(s.u, y)
	s.iters = 0
	size := length(y)
	out := make([]float64, n)
	if size == 0 {
		return out, true
	}
	alpha := s.back(size)
	// back subtracted size·0; from here on v and u have length 1.
	if alpha == 0 {
		return out, true // no column has anything of y
	}
	shrinkBy(s.v, alpha)
	copy(s.w, s.v)
	phiBar, rhoBar := size, alpha
	normA2, normZ2 := alpha*alpha, 0.0
	converged := false
	for s.iters < 4*n+100 && !converged {
		s.iters++
		beta := s.forward(alpha)
		normA2 += beta * beta
		if beta > 0 {
			alpha = s.back(beta)
			if alpha > 0 {
				shrinkBy(s.v, alpha)
			}
		} else {
			alpha = 0
		}
		rho := math.Hypot(rhoBar, beta)
		c, sn := rhoBar/rho, beta/rho
		theta := sn * alpha
		rhoBar = -c * alpha
		phi := c * phiBar
		phiBar = sn * phiBar
		step, turn := phi/rho, theta/rho
		normZ2 = 0
		for j, w := range s.w {
			z := s.z[j] + step*w
			s.z[j] = z
			normZ2 += z * z
			s.w[j] = s.v[j] - turn*w
		}
		normA := math.Sqrt(normA2)
		residual, gradient := phiBar, alpha*math.Abs(c)*phiBar
		converged = residual <= lsqrTolerance*(size+normA*math.Sqrt(normZ2)) || // the equations hold
			gradient <= lsqrTolerance*normA*residual // the residual is orthogonal to the columns
		normA2 += alpha * alpha
	}
	for j := range out {
		out[j] = s.scale[j] * s.z[j]
	}
	return out, converged
}

func length(v []float64) float64 {
	var sum float64
	for _, x := range v {
		sum += x * x
	}
	return math.Sqrt(sum)
}

func shrinkBy(v []float64, by float64) {
	inverse := 1 / by
	for j := range v {
		v[j] *= inverse
	}
}

package judge

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Choice is one judgement over the robots of one match, by index.
type Choice struct {
	Set  []int // distinct; fewer than two say nothing
	Best int   // robot, or None
	// Worst is a robot other than Best, or None. Best and Worst None: no difference.
	Worst int
}

// None stands for a robot that was not named.
const None = -1

// Fit is the posterior of the worths near its maximum: normal with this mean
// and covariance, in log odds.
type Fit struct {
	Mean []float64
	Cov  *mat.SymDense
	// LogLikelihood is of the choices at Mean, without the prior.
	LogLikelihood float64
}

// SD is the standard error of a worth.
func (f *Fit) SD(i int) float64 { return math.Sqrt(f.Cov.At(i, i)) }

// ErrStuck says that no maximum was found; it needs numbers that are not finite.
var ErrStuck = errors.New("the judgements could not be brought together on one scale")

const (
	maxSteps  = 100
	tolerance = 1e-10 // of the gradient, log odds
)

// Worths finds the worths of n robots from choices. priorSD is the standard
// deviation of the prior, above 0; a large one gives the maximum likelihood
// where that exists. The log posterior is strictly concave, so Newton's method
// with halved steps finds its one maximum. ErrStuck; any other error is a
// choice that names a robot that is not in its set.
func Worths(n int, choices []Choice, priorSD float64) (*Fit, error) {
	for k, c := range choices {
		if err := c.check(n); err != nil {
			return nil, fmt.Errorf("judgement %d: %w", k+1, err)
		}
	}
	m := &problem{n: n, choices: choices, ridge: 1 / (priorSD * priorSD)}
	u := make([]float64, n)
	grad, hess := make([]float64, n), mat.NewSymDense(max(n, 1), nil)
	next := make([]float64, n)
	at := m.evaluate(u, grad, hess)
	var chol mat.Cholesky
	for range maxSteps {
		if n == 0 || norm(grad) < tolerance {
			break
		}
		if !chol.Factorize(hess) {
			return nil, ErrStuck
		}
		var step mat.VecDense
		if err := chol.SolveVecTo(&step, mat.NewVecDense(n, grad)); err != nil {
			return nil, ErrStuck
		}
		size, better := 1.0, false
		for ; size > 1e-6 && !better; size /= 2 {
			for i := range u {
				next[i] = u[i] + size*step.AtVec(i)
			}
			better = m.value(next) >= at
		}
		if !better {
			break // rounding is all that is left
		}
		copy(u, next)
		at = m.evaluate(u, grad, hess)
	}
	if math.IsNaN(at) || n > 0 && norm(grad) > 1e-4 {
		return nil, ErrStuck
	}
	fit := &Fit{Mean: u, Cov: mat.NewSymDense(max(n, 1), nil), LogLikelihood: at}
	for _, v := range u {
		fit.LogLikelihood += 0.5 * m.ridge * v * v
	}
	if n == 0 {
		return fit, nil
	}
	if !chol.Factorize(hess) || chol.InverseTo(fit.Cov) != nil {
		return nil, ErrStuck
	}
	return fit, nil
}

func (c Choice) check(n int) error {
	best, worst := c.Best == None, c.Worst == None
	seen := map[int]bool{}
	for _, i := range c.Set {
		if i < 0 || i >= n || seen[i] {
			return fmt.Errorf("robot %d is not one of %d, or stands twice", i, n)
		}
		seen[i] = true
		best, worst = best || i == c.Best, worst || i == c.Worst
	}
	if !best || !worst || c.Best != None && c.Best == c.Worst {
		return errors.New("best and worst are two robots of the set")
	}
	return nil
}

// problem is the log posterior.
type problem struct {
	n       int
	choices []Choice
	ridge   float64
}

func (m *problem) value(u []float64) float64 { return m.evaluate(u, nil, nil) }

// evaluate returns the log posterior at u and, unless they are nil, sets its
// gradient and the negative of its Hessian.
func (m *problem) evaluate(u, grad []float64, hess *mat.SymDense) float64 {
	if grad != nil {
		hess.Zero()
		for i := range u {
			grad[i] = -m.ridge * u[i]
			hess.SetSym(i, i, m.ridge)
		}
	}
	var sum float64
	for _, v := range u {
		sum -= 0.5 * m.ridge * v * v
	}
	one := func(set []int, chosen int, sign, weight float64) {
		sum += weight * pick(u, set, chosen, sign, weight, grad, hess)
	}
	for _, c := range m.choices {
		switch {
		case len(c.Set) < 2:
		case c.Best == None && c.Worst == None:
			// An equal share of every answer.
			each := 1 / float64(len(c.Set))
			for _, b := range c.Set {
				one(c.Set, b, 1, each)
				rest := without(c.Set, b)
				for _, w := range rest {
					one(rest, w, -1, each/float64(len(rest)))
				}
			}
		case c.Best == None:
			one(c.Set, c.Worst, -1, 1)
		default:
			one(c.Set, c.Best, 1, 1)
			if c.Worst != None {
				one(without(c.Set, c.Best), c.Worst, -1, 1)
			}
		}
	}
	return sum
}

// pick returns log(exp(s·u_chosen) / Σ_set exp(s·u_i)) and adds its derivatives
// times a weight.
func pick(u []float64, set []int, chosen int, sign, weight float64, grad []float64, hess *mat.SymDense) float64 {
	top := math.Inf(-1)
	for _, i := range set {
		top = math.Max(top, sign*u[i])
	}
	var total float64
	for _, i := range set {
		total += math.Exp(sign*u[i] - top)
	}
	if grad != nil {
		share := func(i int) float64 { return math.Exp(sign*u[i]-top) / total }
		grad[chosen] += weight * sign
		for a, i := range set {
			p := share(i)
			grad[i] -= weight * sign * p
			hess.SetSym(i, i, hess.At(i, i)+weight*p)
			for _, j := range set[a:] {
				hess.SetSym(i, j, hess.At(i, j)-weight*p*share(j))
			}
		}
	}
	return sign*u[chosen] - top - math.Log(total)
}

func without(set []int, gone int) []int {
	out := make([]int, 0, len(set))
	for _, i := range set {
		if i != gone {
			out = append(out, i)
		}
	}
	return out
}

func norm(v []float64) float64 {
	var most float64
	for _, x := range v {
		most = math.Max(most, math.Abs(x))
	}
	return most
}

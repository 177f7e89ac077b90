package fused

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

type point = [componentCount]float64

// search finds the mode of the posterior of the components by a quasi-Newton
// method (BFGS; Nocedal and Wright 2006, algorithm 6.1) in coordinates in which
// the prior is standard normal, from start. f writes minus the log posterior of
// several points, which it may work on side by side; it
// has small steps where a row becomes an outlier, so derivatives are central
// differences over a tenth of a prior standard deviation. fixed coordinates
// stay. It returns the mode, its value, and the approximate posterior standard
// deviations in the coordinates.
func search(f func(at []point, values []float64) error, start point, fixed [componentCount]bool, steps int) (at point, value float64, sd point, err error) {
	const h = 0.1
	at = start
	one := func(x point) (float64, error) {
		var v [1]float64
		err := f([]point{x}, v[:])
		return v[0], err
	}
	if value, err = one(at); err != nil {
		return at, 0, sd, err
	}
	var curve point
	points, values := make([]point, 0, 2*componentCount), make([]float64, 2*componentCount)
	slopes := func(x point, fx float64, central bool) (g point, err error) {
		points = points[:0]
		for i := range x {
			if fixed[i] {
				curve[i] = 1
				continue
			}
			up, down := x, x
			up[i] += h
			down[i] -= h
			if points = append(points, up); central {
				points = append(points, down)
			}
		}
		if err := f(points, values[:len(points)]); err != nil {
			return g, err
		}
		k := 0
		for i := range x {
			switch {
			case fixed[i]:
			case central:
				fu, fd := values[k], values[k+1]
				g[i] = (fu - fd) / (2 * h)
				curve[i] = (fu - 2*fx + fd) / (h * h)
				k += 2
			default:
				g[i] = (values[k]-fx)/h - curve[i]*h/2
				k++
			}
		}
		return g, nil
	}
	g, err := slopes(at, value, true)
	if err != nil {
		return at, 0, sd, err
	}
	inverse := mat.NewDense(componentCount, componentCount, nil)
	for i := range curve {
		inverse.Set(i, i, 1/math.Max(curve[i], 1))
	}
	for step := range steps {
		var move point
		var descent, length float64
		for i := range move {
			for j := range g {
				move[i] -= inverse.At(i, j) * g[j]
			}
			descent += move[i] * g[i]
			length += move[i] * move[i]
		}
		if descent > -1e-3 { // less than a thousandth of a unit of log posterior to gain
			break
		}
		scale := math.Min(1, 2/math.Sqrt(length)) // at most two prior standard deviations at once
		next, nextValue := at, value
		for range 5 {
			for i := range next {
				next[i] = at[i] + scale*move[i]
			}
			if nextValue, err = one(next); err != nil {
				return at, 0, sd, err
			}
			if nextValue <= value+1e-4*scale*descent {
				break
			}
			scale /= 2
		}
		if nextValue >= value {
			break
		}
		gain := value - nextValue
		from, fromSlope := at, g
		at, value = next, nextValue
		if step == steps-1 || gain < 2e-3 {
			break
		}
		if g, err = slopes(at, value, false); err != nil {
			return at, 0, sd, err
		}
		bfgs(inverse, from, at, fromSlope, g)
	}
	for i := range sd {
		sd[i] = 1 / math.Sqrt(math.Max(curve[i], 1))
	}
	return at, value, sd, nil
}

// bfgs updates the inverse Hessian from one step.
func bfgs(inverse *mat.Dense, x0, x1, g0, g1 point) {
	var s, y point
	var sy float64
	for i := range s {
		s[i], y[i] = x1[i]-x0[i], g1[i]-g0[i]
		sy += s[i] * y[i]
	}
	if sy <= 1e-8 {
		return
	}
	sv, yv := mat.NewVecDense(componentCount, s[:]), mat.NewVecDense(componentCount, y[:])
	var hy mat.VecDense
	hy.MulVec(inverse, yv)
	inverse.RankOne(inverse, (sy+mat.Dot(yv, &hy))/(sy*sy), sv, sv)
	inverse.RankOne(inverse, -1/sy, &hy, sv)
	inverse.RankOne(inverse, -1/sy, sv, &hy)
}

package contrib

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// total is one alliance's official own score in one match: the sum of what its
// robots add to it, and noise.
type total struct {
	robots []int   // indices of the robots that took part, each once
	own    float64 // score without the points received by fouls
}

// Priors that fill in while there are too few alliance totals to tell robots
// from noise. In units of s, the mean own score per robot; the middle of what
// a simulated event of this kind showed (robots differ by .55 s, one robot's
// matches by .43 s). They count as as many totals as are missing to
// enoughTotals and are gone from there on, so that the fit is plain REML.
const (
	enoughTotals    = 31 // 30 degrees of freedom beside the mean
	priorRobotSD    = 0.55
	priorMatchSD    = 0.43 // of one robot's points; an alliance of m has √m times it
	priorRatioLogSD = 0.5  // of log(τ/σ)
)

// robotScale is s, the mean own score per robot; one point when nothing was scored.
func robotScale(totals []total) float64 {
	var points, robots float64
	for _, t := range totals {
		points += math.Abs(t.own)
		robots += float64(len(t.robots))
	}
	if points == 0 || robots == 0 {
		return 1
	}
	return points / robots
}

// missingTotals is how many degrees of freedom the priors stand for, 0 to 30.
func missingTotals(totals int) float64 {
	return math.Max(0, enoughTotals-math.Max(1, float64(totals)))
}

// reml estimates the variance of the robots' effects (tau2) and of an
// alliance's total around their sum (sigma2), in points², by restricted
// maximum likelihood for
//
//	y = μ·k/size + Σ u + e,   u ~ N(0, tau2),   e ~ N(0, sigma2·k/size),
//
// k robots present (multiple membership: Browne, Goldstein, Rasbash 2001,
// doi:10.1177/1471082X0100100202). size is the robots of a full alliance, n
// the number of robots, scale the s of the priors. tau2 = 0 is a legal answer.
//
// With λ the eigenvalues of the robots' part once the mean is projected out, c
// the projected scores' coordinates there and v = tau2/sigma2, the criterion
//
//	Σ log(1 + v·λ) + df·log Q(v),   Q(v) = rest + Σ c²/(1 + v·λ),
//
// is profiled in sigma2 = Q/df, looked at on a grid (it can have two minima)
// and at v = 0, and polished where its derivative changes sign.
func reml(totals []total, n, size int, scale float64) (tau2, sigma2 float64, err error) {
	rows := len(totals)
	if rows == 0 {
		return 0, 0, ErrNoData
	}
	lambda, c2, rest, err := spectrum(totals, n, size)
	if err != nil {
		return 0, 0, err
	}
	missing := missingTotals(rows)
	df := float64(rows-1) + missing
	noise := float64(size) * square(priorMatchSD*scale)
	rest += missing * noise
	ratio := priorRobotSD * scale / math.Sqrt(noise)
	weight := missing / (enoughTotals - 1) / square(priorRatioLogSD)

	q := func(v float64) (q, dq float64) {
		q = rest
		for i, l := range lambda {
			f := 1 / (1 + v*l)
			q += c2[i] * f
			dq -= c2[i] * l * f * f
		}
		return q, dq
	}
	criterion := func(v float64) float64 {
		value, _ := q(v)
		value = df * math.Log(value)
		for _, l := range lambda {
			value += math.Log1p(v * l)
		}
		if weight > 0 {
			value += weight * square(math.Log(v)/2-math.Log(ratio))
		}
		return value
	}
	// Derivative by log v, so that it is of one scale on the whole grid.
	slope := func(v float64) float64 {
		value, dq := q(v)
		d := df * dq / value
		for _, l := range lambda {
			d += l / (1 + v*l)
		}
		return d*v + weight*(math.Log(v)/2-math.Log(ratio))
	}

	best, bestValue := 0.0, math.Inf(1)
	if weight == 0 {
		bestValue = criterion(0)
	}
	const step, low, high = 0.25, -20.0, 14.0 // log v: τ/σ from 5e-5 to 1e3
	prev := slope(math.Exp(low))
	for t := low + step; t <= high; t += step {
		next := slope(math.Exp(t))
		if prev < 0 && next >= 0 {
			if v := math.Exp(bisect(func(t float64) float64 { return slope(math.Exp(t)) }, t-step, t)); criterion(v) < bestValue {
				best, bestValue = v, criterion(v)
			}
		}
		prev = next
	}
	if v := math.Exp(high); prev < 0 && criterion(v) < bestValue {
		best = v // no residual left: as many robots as totals, say
	}
	value, _ := q(best)
	// A fit without any residual (all scores equal, or exact sums) must not be
	// certain: an official score is not exact to the last digit.
	return best * value / df, math.Max(value/df, square(minNoise*scale)), nil
}

// minNoise is the least standard deviation of an alliance's total, in units of
// s: what the official own score is worth as a measurement (scorers' slips and
// whole points).
const minNoise = 0.02

// spectrum returns the eigenvalues λ of the robots' part with the mean
// projected out, the squared coordinates of the projected scores, and what of
// the scores lies outside. Rows are divided by √(k/size) first, which makes
// their noise equal.
//
// With W the robots' part, what is decomposed is WᵀW, whose entries are sums
// over the rows: a matrix as large as there are robots, however many matches.
func spectrum(totals []total, n, size int) (lambda, c2 []float64, rest float64, err error) {
	gram := mat.NewSymDense(n, nil)
	data := gram.RawSymmetric().Data
	xw, wy := make([]float64, n), make([]float64, n)
	var xx, xy, mean float64
	for _, t := range totals {
		mean += t.own / float64(len(totals))
	}
	// μ takes the mean up. Leaving it out beforehand keeps the digits of the rest.
	mean /= float64(size)
	for _, t := range totals {
		k := float64(len(t.robots))
		share := k / float64(size)
		y := t.own - mean*k
		xx += share
		xy += y
		for _, r := range t.robots {
			xw[r]++
			wy[r] += y / share
			for _, q := range t.robots {
				if q >= r {
					data[r*n+q] += 1 / share
				}
			}
		}
	}
	mu := xy / xx
	for i := range n {
		wy[i] -= xw[i] * mu
		for j := i; j < n; j++ {
			data[i*n+j] -= xw[i] * xw[j] / xx
		}
	}
	for _, t := range totals {
		k := float64(len(t.robots))
		share := k / float64(size)
		rest += square(t.own-mean*k-share*mu) / share
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(gram, true) {
		return nil, nil, 0, fmt.Errorf("eigenvalues of %d alliance totals and %d robots did not converge", len(totals), n)
	}
	values := eigen.Values(nil) // ascending
	var v mat.Dense
	eigen.VectorsTo(&v)
	for k := n - 1; k >= 0 && values[k] > 1e-12*values[n-1]; k-- {
		// Below: the mean that was projected out, or a schedule of lower rank.
		var c float64
		for i := range n {
			c += v.At(i, k) * wy[i]
		}
		lambda, c2 = append(lambda, values[k]), append(c2, c*c/values[k])
		rest -= c * c / values[k]
	}
	return lambda, c2, math.Max(0, rest), nil
}

// bisect finds where f changes from negative to positive between lo and hi.
func bisect(f func(float64) float64, lo, hi float64) float64 {
	for range 60 { // 0.25·2⁻⁶⁰ is below the spacing of doubles here
		mid := (lo + hi) / 2
		if f(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

func square(x float64) float64 { return x * x }

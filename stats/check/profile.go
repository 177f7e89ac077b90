package check

import (
	"math"
)

// profiles are what robots do, action by action, as records tell. What a
// robot is expected to do in one match leaves the rows of that match out, or a
// row would be its own witness.
type profiles struct {
	t     *table
	sum   [][]float64   // [robot][cell] units, mean over the rows of a match
	share [][]float64   // and the exposure that they took
	picks [][][]float64 // [robot][cell][option]: matches in which it was chosen
	prior []cellPrior
	cache map[[2]int]*expected
}

// cellPrior is how a cell goes over all robots.
type cellPrior struct {
	mean, between float64   // of rates
	over          float64   // variance of a count beyond its mean: over·mean²
	chance        []float64 // of options; of a flag in [1]
}

// expected is what a robot should do in one match, by cell.
type expected struct {
	rate, variance []float64   // counts: units with full exposure, and what is not known of it
	chance         [][]float64 // flags and choices
}

const (
	formSD = 0.2 // of the log of what all counts of a robot share in one match; plausible
	// Matches' worth of the field in a robot's own shares.
	choiceWeight = 1.5
	leastRate    = 0.05 // a robot that was never seen doing it may do it today
)

// form is a normal law in five points (Gauss–Hermite; Abramowitz and Stegun
// 1964, table 25.10, scaled to the standard normal law).
var form = [5]struct{ factor, weight float64 }{
	{math.Exp(-2.856970 * formSD), 0.0112574}, {math.Exp(-1.355626 * formSD), 0.2220759}, {1, 0.5333333},
	{math.Exp(1.355626 * formSD), 0.2220759}, {math.Exp(2.856970 * formSD), 0.0112574},
}

func newProfiles(t *table) *profiles {
	p := &profiles{t: t, cache: map[[2]int]*expected{}, prior: make([]cellPrior, len(t.cells))}
	for range t.teams {
		p.sum, p.share = append(p.sum, make([]float64, len(t.cells))), append(p.share, make([]float64, len(t.cells)))
		picks := make([][]float64, len(t.cells))
		for k := range t.cells {
			picks[k] = make([]float64, max(2, len(t.cells[k].names)))
		}
		p.picks = append(p.picks, picks)
	}
	for i := range t.plays {
		for s := range t.plays[i].seats {
			p.add(i, s, 1)
		}
	}
	for k := range t.cells {
		p.layPrior(k)
	}
	return p
}

// add takes the rows of a seat in (sign 1) or out again (−1).
func (p *profiles) add(play, seat int, sign float64) {
	pl := &p.t.plays[play]
	robot := pl.seats[seat]
	if robot < 0 {
		return
	}
	for k := range p.t.cells {
		var x, w, n float64
		c := &p.t.cells[k]
		for _, id := range pl.rows[seat] {
			r := p.t.rows[id]
			if !r.usable() || math.IsNaN(r.vals[k]) {
				continue
			}
			n++
			if c.kind == countCell {
				x += r.vals[k]
				w += r.exposed(c)
			}
		}
		if n == 0 {
			continue
		}
		p.sum[robot][k] += sign * x / n
		p.share[robot][k] += sign * w / n
		if c.kind == countCell {
			continue
		}
		for _, id := range pl.rows[seat] {
			if r := p.t.rows[id]; r.usable() && !math.IsNaN(r.vals[k]) {
				at := min(max(0, int(r.vals[k])), len(p.picks[robot][k])-1)
				p.picks[robot][k][at] += sign / n
			}
		}
	}
}

// layPrior is the field in one cell, by moments.
func (p *profiles) layPrior(k int) {
	c := &p.t.cells[k]
	pr := &p.prior[k]
	if c.kind != countCell {
		pr.chance = make([]float64, max(2, len(c.names)))
		var all float64
		for o := range pr.chance {
			pr.chance[o] = 0.5
			for r := range p.picks {
				pr.chance[o] += p.picks[r][k][o]
			}
			all += pr.chance[o]
		}
		for o := range pr.chance {
			pr.chance[o] /= all
		}
		return
	}
	var x, w, robots float64
	for r := range p.sum {
		x += p.sum[r][k]
		w += p.share[r][k]
	}
	pr.mean = math.Max(leastRate, (x+leastRate)/(w+1))
	var spread, within, squares, free, inverse float64
	rate := func(r int) float64 { return p.sum[r][k] / p.share[r][k] }
	for r := range p.sum {
		if p.share[r][k] > 0.5 {
			robots++
			spread += square(rate(r) - pr.mean)
			inverse += 1 / p.share[r][k]
		}
	}
	for _, row := range p.t.rows {
		if row.usable() && !math.IsNaN(row.vals[k]) && p.share[row.robot][k] > 1.5 {
			m := rate(row.robot) * row.exposed(c)
			// One row in a hundred may run away: it must not widen all others.
			within += math.Min(square(row.vals[k]-m), 16*m+4) - m
			squares += m * m
			free++
		}
	}
	// Leans on a tenth while little was seen.
	lean := 20 * square(pr.mean)
	if all := squares + lean; all > 0 {
		pr.over = math.Min(3, math.Max(0.02, (within*free/math.Max(1, free-robots)+0.1*lean)/all))
	}
	noise := pr.mean + pr.over*square(pr.mean)
	pr.between = (spread + 4*square(0.5*pr.mean)) / (robots + 3)
	pr.between = math.Max(pr.between-noise*inverse/(robots+4), 0.1*pr.between)
}

// of is what a robot should do in a play, its rows there left out.
func (p *profiles) of(robot, play int) *expected {
	key := [2]int{robot, play}
	if e, ok := p.cache[key]; ok {
		return e
	}
	seat := -1
	if play >= 0 {
		for s, r := range p.t.plays[play].seats {
			if r == robot {
				seat = s
			}
		}
	}
	if seat >= 0 {
		p.add(play, seat, -1)
		defer p.add(play, seat, 1)
	}
	n := len(p.t.cells)
	e := &expected{rate: make([]float64, n), variance: make([]float64, n), chance: make([][]float64, n)}
	known := p.t.opt.Known[p.t.teams[robot]]
	for k := range p.t.cells {
		c := &p.t.cells[k]
		if c.kind != countCell {
			e.chance[k] = p.chances(robot, k, known)
			continue
		}
		e.rate[k], e.variance[k] = p.gamma(k, p.sum[robot][k], p.share[robot][k])
		if v, ok := known[c.key("")]; ok {
			e.rate[k], e.variance[k] = math.Max(leastRate, v), 0
		}
	}
	p.cache[key] = e
	return e
}

// gamma is the rate of a robot that did so many units in so much time, and the
// variance of what is not known of it: a gamma law of rates, its evidence
// weakened by what counts scatter beyond a Poisson law.
func (p *profiles) gamma(k int, units, share float64) (rate, variance float64) {
	pr := &p.prior[k]
	b := pr.mean / pr.between
	q := 1 + pr.over*pr.mean
	at := b + math.Max(0, share)/q
	rate = math.Max(leastRate, (pr.mean*b+math.Max(0, units)/q)/at)
	return rate, rate / at
}

func (c *cell) key(option string) string {
	switch {
	case c.missed:
		return c.id + "_missed"
	case option != "":
		return c.id + ":" + option
	}
	return c.id
}

func (p *profiles) chances(robot, k int, known Means) []float64 {
	c := &p.t.cells[k]
	pr := &p.prior[k]
	out := make([]float64, len(pr.chance))
	var all float64
	for o := range out {
		out[o] = choiceWeight*pr.chance[o] + math.Max(0, p.picks[robot][k][o])
		if known != nil && c.action >= 0 {
			switch {
			case c.kind == flagCell && o == 1:
				out[o] = known[c.id]
			case c.kind == flagCell:
				out[o] = 1 - known[c.id]
			default:
				out[o] = known[c.key(c.names[o])]
			}
			out[o] = math.Max(0.01, out[o])
		}
		all += out[o]
	}
	for o := range out {
		out[o] /= all
	}
	return out
}

// logRow is the log likelihood of a row as one of a robot of which so much is
// expected: counts follow negative binomial laws around exposure × rate and
// share a form of the match. Cells that skip says are left out.
func (p *profiles) logRow(r *row, e *expected, scale float64, skip func(k int) bool) float64 {
	var rest float64
	var at [len(form)]float64
	for k := range p.t.cells {
		x := r.vals[k]
		if math.IsNaN(x) || skip != nil && skip(k) {
			continue
		}
		if c := &p.t.cells[k]; c.kind != countCell {
			rest += logChance(e.chance[k], x)
		} else {
			p.count(&at, k, x, e, scale*r.exposed(c))
		}
	}
	return rest + mixForm(&at)
}

// count adds one count's log likelihood to each form.
func (p *profiles) count(at *[len(form)]float64, k int, x float64, e *expected, w float64) {
	alpha := math.Max(0.02, p.prior[k].over-square(formSD)) + e.variance[k]/square(e.rate[k])
	size := 1 / alpha
	head := lgamma(x+size) - lgamma(size) - lgamma(x+1)
	for f := range form {
		m := math.Max(0.02, e.rate[k]*w*form[f].factor)
		at[f] += head - (size+x)*math.Log1p(alpha*m) + x*math.Log(alpha*m)
	}
}

func mixForm(at *[len(form)]float64) float64 {
	top := math.Inf(-1)
	for f := range at {
		top = math.Max(top, at[f])
	}
	var sum float64
	for f := range at {
		sum += form[f].weight * math.Exp(at[f]-top)
	}
	return top + math.Log(sum)
}

func logChance(chance []float64, x float64) float64 {
	return math.Log(chance[min(max(0, int(x)), len(chance)-1)])
}

func lgamma(x float64) float64 {
	v, _ := math.Lgamma(x)
	return v
}

func square(x float64) float64 { return x * x }

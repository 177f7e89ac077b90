package check

import (
	"math"
)

// fault is one mistake that would explain a row: how much better than none, by
// the rows and by the official figures, and how likely that makes it.
type fault struct {
	prior  int
	kind   Kind
	rows   [2]int  // the second −1 but for an exchange
	robot  int     // whose row it is; −1: not told
	play   int     // of which play
	cell   int     // the count in doubt, −1: the whole row
	row    float64 // log likelihood ratio by the rows
	total  float64 // and by official figures
	parts  float64 // the prior is shared by so many
	chance float64
}

// faults lists what may be wrong with each row.
func (t *table) faults() (all []fault, chances [priorCount]float64) {
	asis := make([]float64, len(t.rows))
	for i, r := range t.rows {
		if r.usable() {
			asis[i] = t.logSeat(r, r.robot, r.play, nil, nil)
		}
	}
	for i, r := range t.rows {
		if !r.doubtable() {
			continue
		}
		p := &t.plays[r.play]
		put := func(f fault) {
			f.rows[0] = i
			if f.rows[1] == 0 {
				f.rows[1] = -1
			}
			if !math.IsNaN(f.row) && !math.IsInf(f.row, 0) {
				all = append(all, f)
			}
		}
		struck := t.totals.without(r)
		broad := t.broad(r) - asis[i]

		chances[robotPrior]++
		chances[opponentPrior]++
		partners, opponents := float64(p.mates(r.seat)), float64(len(p.seats)-p.mates(r.seat)-1)
		for s, robot := range p.seats {
			if s == r.seat || robot < 0 || p.absent[s] {
				continue
			}
			f := fault{prior: robotPrior, kind: WrongRobot, robot: robot, play: r.play, cell: -1, parts: partners,
				row: t.logSeat(r, robot, r.play, nil, nil) - asis[i], total: struck}
			if p.side(s) != p.side(r.seat) {
				f.prior, f.parts = opponentPrior, opponents
			}
			put(f)
			for _, id := range p.rows[s] {
				if o := t.rows[id]; id > i && o.doubtable() && o.scout != r.scout {
					put(t.exchange(r, id, asis[i]+asis[id]))
					if p.side(s) == p.side(r.seat) {
						chances[pairPrior]++
					} else {
						chances[acrossPrior]++
					}
				}
			}
		}
		if broad > -1 { // the row fits badly enough to look further afield
			for _, next := range []int{p.before, p.after} {
				if next < 0 {
					continue
				}
				for _, robot := range t.plays[next].seats {
					if robot >= 0 {
						put(fault{prior: nextMatchPrior, kind: WrongRobot, robot: robot, play: next, cell: -1,
							parts: float64(2 * len(p.seats)), row: t.logSeat(r, robot, next, nil, nil) - asis[i], total: struck})
					}
				}
			}
		}
		chances[nextMatchPrior]++
		if f, ok := t.shifted(r, asis[i]); ok {
			chances[periodPrior]++
			put(f)
		}
		chances[stuckPrior]++
		t.stuck(r, asis[i], put)
		chances[outlierPrior]++
		put(fault{prior: outlierPrior, kind: Outlier, robot: -1, play: r.play, cell: -1, parts: 1, row: broad, total: struck})
		if row, ok := t.blank(r); ok {
			put(fault{prior: blankPrior, kind: Outlier, robot: -1, play: r.play, cell: -1, parts: 1, row: row - asis[i], total: struck})
		}
		chances[blankPrior]++
	}
	return all, chances
}

// mates is how many partners the robot of a seat has.
func (p *play) mates(seat int) int {
	n := -1
	for s := range p.seats {
		if p.side(s) == p.side(seat) {
			n++
		}
	}
	return max(1, n)
}

// exchange: the rows of two robots of a match stand at each other's.
func (t *table) exchange(r *row, with int, asis float64) fault {
	o := t.rows[with]
	f := fault{prior: pairPrior, kind: Swap, rows: [2]int{0, with}, robot: o.robot, play: r.play, cell: -1, parts: 1}
	f.row = t.logSeat(r, o.robot, r.play, o, nil) + t.logSeat(o, r.robot, r.play, r, nil) - asis
	p := &t.plays[r.play]
	if p.side(r.seat) != p.side(o.seat) {
		f.prior = acrossPrior
		a, b := t.totals.of(r, t.profiles.of(r.robot, r.play)), t.totals.of(o, t.profiles.of(o.robot, r.play))
		var up, down vector
		for c := range a {
			up[c], down[c] = b[c]-a[c], a[c]-b[c]
		}
		f.total = t.totals.moved(r, up, nil) + t.totals.moved(o, down, nil)
	}
	return f
}

// broad is the log likelihood of a row of which nothing is known: anything that
// any robot of the event might do, and more.
func (t *table) broad(r *row) float64 {
	var sum float64
	for k := range t.cells {
		x := r.vals[k]
		if math.IsNaN(x) {
			continue
		}
		pr := &t.profiles.prior[k]
		if t.cells[k].kind != countCell {
			sum += math.Log(0.5*pr.chance[min(max(0, int(x)), len(pr.chance)-1)] + 0.5/float64(len(pr.chance)))
			continue
		}
		m := 1.3 * pr.mean
		alpha := 1 + 2*pr.between/square(pr.mean)
		size := 1 / alpha
		sum += lgamma(x+size) - lgamma(size) - lgamma(x+1) - (size+x)*math.Log1p(alpha*m) + x*math.Log(alpha*m)
	}
	return sum
}

// blank: all counts and flags are zero, as when somebody sent a form without
// having watched. False: they are not.
func (t *table) blank(r *row) (sum float64, ok bool) {
	for k := range t.cells {
		x := r.vals[k]
		switch {
		case math.IsNaN(x):
		case t.cells[k].kind == choiceCell:
			pr := &t.profiles.prior[k]
			sum += math.Log(pr.chance[min(max(0, int(x)), len(pr.chance)-1)])
		case x != 0:
			return 0, false
		default:
			ok = true
		}
	}
	return sum, ok
}

// shifted: what was done in a period was counted in a later one, into the
// action of the same name. Only a row without any such count in the earlier
// period can be one.
func (t *table) shifted(r *row, asis float64) (fault, bool) {
	f := fault{prior: periodPrior, kind: Period, robot: r.robot, play: r.play, cell: -1, parts: 1}
	e := t.profiles.of(r.robot, r.play)
	involved := map[int]bool{}
	var from []int
	for k := range t.cells {
		c := &t.cells[k]
		if c.later < 0 || math.IsNaN(r.vals[k]) || math.IsNaN(r.vals[c.later]) {
			continue
		}
		if r.vals[k] > 0 {
			return f, false
		}
		if r.vals[c.later] > 0 {
			from = append(from, k)
			involved[k], involved[c.later] = true, true
		}
	}
	if len(from) == 0 {
		return f, false
	}
	// Counts that may have moved, each on its own: how many of the later
	// action's units were of the earlier one. That none moved is no fault.
	sum, none, with := 0.0, 0.0, 0.0
	var by vector
	for _, k := range from {
		later := t.cells[k].later
		x := int(r.vals[later])
		best, bestAt := math.Inf(-1), 0
		all, told := math.Inf(-1), math.Inf(-1)
		for s := 0; s <= min(x, 40); s++ {
			l := t.one(k, float64(s), e, r) + t.one(later, float64(x-s), e, r)
			if s == 0 {
				none += l
			}
			all = logSum(all, l)
			if t.cells[k].missed { // no official figure has misses
				told = all
				continue
			}
			if l += t.totals.moved(r, t.recounted(k, float64(s), by), nil); l > best {
				best, bestAt = l, s
			}
			told = logSum(told, l)
		}
		if f.cell < 0 {
			f.cell = k
		}
		by = t.recounted(k, float64(bestAt), by)
		sum += all
		with += told
	}
	if sum <= none {
		return f, false
	}
	f.total = with - sum
	// A robot may do nothing at all in a period, more often than its counts
	// scatter: it did not start.
	idle := none
	for _, k := range from {
		idle -= t.one(k, 0, e, r)
	}
	f.row = sum + math.Log1p(-math.Exp(none-sum)) - logSum(none+math.Log(1-idlePeriod), idle+math.Log(idlePeriod))
	return f, true
}

// idlePeriod is how often a robot that can do something in a short period does
// nothing in it; plausible, not measured.
const idlePeriod = 0.06

// recounted adds to by what moves when so many units of a cell were counted as
// the later one.
func (t *table) recounted(k int, units float64, by vector) vector {
	for c := range t.totals.channels {
		ch := &t.totals.channels[c]
		by[c] += ch.value(k, units) - ch.value(t.cells[k].later, units)
	}
	return by
}

// one is the log likelihood of one count.
func (t *table) one(k int, x float64, e *expected, r *row) float64 {
	var at [len(form)]float64
	t.profiles.count(&at, k, x, e, r.exposed(&t.cells[k]))
	return mixForm(&at)
}

// stuck: one count is far above what its robot does, and the rest is as usual.
func (t *table) stuck(r *row, asis float64, put func(fault)) {
	e := t.profiles.of(r.robot, r.play)
	for k := range t.cells {
		x := r.vals[k]
		if t.cells[k].kind != countCell || math.IsNaN(x) {
			continue
		}
		m := e.rate[k] * r.exposed(&t.cells[k])
		if x < m+4 || x < 1.7*m {
			continue
		}
		// A counter that ran away went on for ten or so, and twice as long as
		// the robot usually makes it.
		mean := 10 + m
		runaway := -(x-m)/mean - math.Log(mean)
		f := fault{prior: stuckPrior, kind: Stuck, robot: r.robot, play: r.play, cell: k, parts: 1}
		f.row = t.logSeat(r, r.robot, r.play, nil, func(c int) bool { return c == k }) + runaway - asis
		var by vector
		var v matrix
		variance := e.rate[k] + t.profiles.prior[k].over*square(e.rate[k]) + e.variance[k]
		for c := range t.totals.channels {
			by[c] = t.totals.channels[c].unit[k] * (m - x)
			for d := range t.totals.channels {
				v[c][d] = t.totals.channels[c].unit[k] * t.totals.channels[d].unit[k] * variance
			}
		}
		f.total = t.totals.moved(r, by, &v)
		put(f)
	}
}

package check

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
)

// ScoutReport is how one scout counts, for coaching, never for ranking people. All of
// it lies beside what others saw of the same robots, so a scout is not the own
// witness.
type ScoutReport struct {
	Scout   string `json:"scout"`   // nickname
	Records int    `json:"records"` // of robots that showed, watched all through
	Doubted int    `json:"doubted"` // of all records, those with which more likely than not something is wrong
	// Agreement is the share of what two people counted of one robot in one match
	// that they agree on: 1 − Σ|x−y| / Σ(x+y). nil: nobody watched the same.
	Agreement *float64 `json:"agreement,omitempty"`
	Compared  int      `json:"compared"` // records that somebody else made too
	Habits    []Habit  `json:"habits" nullable:"false"`
	// Late is by which share more or less is counted in the second half of a day
	// than in the first, beside the same robots' usual; nil: too few records.
	Late  *Interval95 `json:"late,omitempty"`
	Hints []string    `json:"hints" nullable:"false"` // short sentences for the lead, kindly
}

// Habit is how a scout counts one action.
type Habit struct {
	Action string  `json:"action"`
	Missed bool    `json:"missed,omitempty"` // its misses
	Units  float64 `json:"units"`            // counted
	// Bias is the share that is counted too much (above 0) or too little.
	Bias Interval95 `json:"bias"`
	// Spread is how far counts lie from what is expected, as a multiple of how
	// far anybody's do by the luck of matches.
	Spread Interval95 `json:"spread"`
}

// Interval95 is a value and its 95 % interval.
type Interval95 struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

const (
	leastUnits = 15.0 // expected, below which nothing is said of an action
	leastHalf  = 5    // records of each half of a day
	normal95   = 1.96
	// A hint is given for what is large enough to matter and beyond three
	// standard deviations: a dozen scouts with ten counts each are looked at.
	hintBias, hintSD = 0.15, 3.0
	hintSpread       = 1.5
	hintAgreement    = 0.7
)

// sums of what a scout counted of one cell and what was to be expected.
type sums struct {
	n                   int
	counted, expected   float64
	residual, variances float64         // Σ(x−m)², Σ of what luck explains
	doubt               map[int]float64 // by robot: exposure, whose rate is not known well
}

// bias is the share counted too much, with its standard deviation.
func (s *sums) bias(rateVariance func(robot int) float64) (value, sd float64) {
	v := math.Max(s.residual, 0.5*s.variances)
	for _, robot := range slices.Sorted(maps.Keys(s.doubt)) {
		v += square(s.doubt[robot]) * rateVariance(robot)
	}
	return s.counted/s.expected - 1, math.Sqrt(v) / s.expected
}

func interval(value, sd float64) Interval95 {
	return Interval95{value, value - normal95*sd, value + normal95*sd}
}

// scouts looks at everybody who made a record.
func (t *table) scouts(suspects []Suspect) []ScoutReport {
	by := map[string][]*row{}
	for _, r := range t.rows {
		if r.usable() {
			by[r.scout] = append(by[r.scout], r)
		}
	}
	out := []ScoutReport{}
	for _, name := range slices.Sorted(maps.Keys(by)) {
		s := ScoutReport{Scout: name, Records: len(by[name]), Habits: []Habit{}, Hints: []string{}}
		for i := range suspects {
			if x := &suspects[i]; x.Probability >= inDoubt && x.Kind != Disagree && slices.Contains(x.Scouts, name) {
				s.Doubted++
			}
		}
		t.agree(&s, by[name])
		t.habits(&s, by[name])
		out = append(out, s)
	}
	return out
}

// agree compares the counts of a scout with others' of the same robot and match.
func (t *table) agree(s *ScoutReport, rows []*row) {
	var apart, all float64
	for _, r := range rows {
		seen := false
		for _, id := range t.plays[r.play].rows[r.seat] {
			o := t.rows[id]
			if o == r || !o.usable() || o.scout == r.scout {
				continue
			}
			seen = true
			for k := range t.cells {
				if x, y := r.vals[k], o.vals[k]; t.cells[k].kind == countCell && !math.IsNaN(x) && !math.IsNaN(y) {
					apart += math.Abs(x - y)
					all += x + y
				}
			}
		}
		if seen {
			s.Compared++
		}
	}
	if all > 0 {
		share := 1 - apart/all
		s.Agreement = &share
		if s.Compared >= leastHalf && share < hintAgreement {
			s.Hints = append(s.Hints, fmt.Sprintf("Agrees with others on %.0f %% of what both counted: watch a match together and compare.", 100*share))
		}
	}
}

// habits lays what a scout counted beside what others saw of the same robots.
func (t *table) habits(s *ScoutReport, rows []*row) {
	others := t.without(rows)
	for k := range t.cells {
		c := &t.cells[k]
		if c.kind != countCell {
			continue
		}
		pr := &t.profiles.prior[k]
		sum := sums{doubt: map[int]float64{}}
		variance := func(robot int) float64 { return others[robot][k].variance }
		for _, r := range rows {
			x, at := r.vals[k], others[r.robot][k]
			if math.IsNaN(x) {
				continue
			}
			w := r.exposed(c)
			m := at.rate * w
			luck := m + pr.over*square(m)
			sum.n++
			sum.counted += x
			sum.expected += m
			sum.residual += square(x - m)
			sum.variances += luck
			sum.doubt[r.robot] += w
		}
		if sum.expected < leastUnits {
			continue
		}
		bias, sd := sum.bias(variance)
		var unknown float64
		for _, robot := range slices.Sorted(maps.Keys(sum.doubt)) {
			unknown += square(sum.doubt[robot]) * variance(robot)
		}
		unknown /= float64(max(1, sum.n))
		spread := math.Sqrt(sum.residual / (sum.variances + unknown))
		h := Habit{Action: c.id, Missed: c.missed, Units: sum.counted, Bias: interval(bias, sd),
			Spread: interval(spread, spread/math.Sqrt(2*float64(sum.n)))}
		h.Bias.Low = math.Max(-1, h.Bias.Low)
		s.Habits = append(s.Habits, h)
		t.hint(s, c, &h, bias, sd)
	}
	t.tired(s, rows, others)
}

// tired compares the second half of a day with the first. All counts of a row
// share a good or a bad match, so it is rows that scatter, not counts.
func (t *table) tired(s *ScoutReport, rows []*row, others map[int][]seenByOthers) {
	half := t.halves(rows)
	sum := [2]sums{{doubt: map[int]float64{}}, {doubt: map[int]float64{}}}
	for _, r := range rows {
		if half[r] == 0 {
			continue
		}
		into := &sum[half[r]-1]
		var counted, expected, luck, unknown float64
		for k := range t.cells {
			c := &t.cells[k]
			if x := r.vals[k]; c.kind == countCell && !math.IsNaN(x) {
				at, w := others[r.robot][k], r.exposed(c)
				counted += x
				expected += at.rate * w
				luck += at.rate*w + t.profiles.prior[k].over*square(at.rate*w)
				unknown += square(w) * at.variance
			}
		}
		into.n++
		into.counted += counted
		into.expected += expected
		into.residual += square(counted - expected)
		into.variances += luck
		into.doubt[r.robot] += math.Sqrt(unknown)
	}
	early, late := &sum[0], &sum[1]
	if early.expected < leastUnits || late.expected < leastUnits || early.counted == 0 {
		return
	}
	whole := func(int) float64 { return 1 } // doubt holds standard deviations
	a, sa := early.bias(whole)
	b, sb := late.bias(whole)
	change := (1+b)/(1+a) - 1
	sd := math.Hypot(sb/(1+a), (1+change)*sa/(1+a)) // delta method
	v := interval(change, sd)
	v.Low = math.Max(-1, v.Low)
	s.Late = &v
	if change < -hintBias && change < -hintSD*sd {
		s.Hints = append(s.Hints, fmt.Sprintf("Counts %.0f %% less in the second half of the day: a break would do good.", -100*change))
	}
}

func (t *table) hint(s *ScoutReport, c *cell, h *Habit, bias, sd float64) {
	name := t.g.Actions[c.action].Label()
	if c.missed {
		name = "misses of " + name
	}
	ends := func() string {
		a, b := math.Abs(h.Bias.Low), math.Abs(h.Bias.High)
		return fmt.Sprintf("%.0f to %.0f %%", 100*math.Min(a, b), 100*math.Max(a, b))
	}
	switch {
	case bias < -hintBias && bias < -hintSD*sd:
		s.Hints = append(s.Hints, fmt.Sprintf("Counts few %s: %s fewer than others.", name, ends()))
	case bias > hintBias && bias > hintSD*sd:
		s.Hints = append(s.Hints, fmt.Sprintf("Counts many %s: %s more than others.", name, ends()))
	case h.Spread.Value > hintSpread && h.Spread.Low > 1.2:
		s.Hints = append(s.Hints, fmt.Sprintf("Counts %s unevenly, now too many and now too few.", name))
	}
}

// seenByOthers is what others saw of a robot in one cell: units a match, and what is
// not known of it.
type seenByOthers struct{ rate, variance float64 }

// without are robots' rates with some rows, all of one scout, left out.
func (t *table) without(rows []*row) map[int][]seenByOthers {
	p := t.profiles
	type own struct{ sum, share []float64 }
	mine := map[int]*own{}
	for _, r := range rows {
		o := mine[r.robot]
		if o == nil {
			o = &own{make([]float64, len(t.cells)), make([]float64, len(t.cells))}
			mine[r.robot] = o
		}
		for k := range t.cells {
			if t.cells[k].kind != countCell || math.IsNaN(r.vals[k]) {
				continue
			}
			n := 0.0
			for _, id := range t.plays[r.play].rows[r.seat] {
				if x := t.rows[id]; x.usable() && !math.IsNaN(x.vals[k]) {
					n++
				}
			}
			o.sum[k] += r.vals[k] / n
			o.share[k] += r.exposed(&t.cells[k]) / n
		}
	}
	out := map[int][]seenByOthers{}
	for robot, o := range mine {
		out[robot] = make([]seenByOthers, len(t.cells))
		for k := range t.cells {
			if t.cells[k].kind == countCell {
				rate, variance := p.gamma(k, p.sum[robot][k]-o.sum[k], p.share[robot][k]-o.share[k])
				out[robot][k] = seenByOthers{rate, variance}
			}
		}
	}
	return out
}

// part of a day: the first or the second half; 0: of a day with too few records.
type part int8

// halves tells of each row whether it is of the first or the second half of
// what its scout recorded on that day.
func (t *table) halves(rows []*row) map[*row]part {
	days := map[string][]*row{}
	for _, r := range rows {
		day := t.plays[r.play].match.StartsAt.Format("2006-01-02")
		days[day] = append(days[day], r)
	}
	out := map[*row]part{}
	for _, list := range days {
		slices.SortStableFunc(list, func(a, b *row) int { return cmp.Compare(a.play, b.play) })
		if len(list) < 2*leastHalf {
			continue
		}
		for i, r := range list {
			out[r] = 1
			if 2*i >= len(list) {
				out[r] = 2
			}
		}
	}
	return out
}

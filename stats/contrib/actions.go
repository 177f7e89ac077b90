package contrib

import (
	"math"

	"sextant/stats/game"
	"sextant/stats/record"
)

// shrunken is an empirical Bayes estimate of one quantity for all robots.
type shrunken struct {
	mean, variance []float64 // by robot; the variance is of the mean
	within         float64   // variance from one match to the next
}

const (
	// While few matches were seen, the match-to-match variance leans on that
	// of a count (Poisson: the mean), and the difference between robots on
	// half the mean; each counts as so many degrees of freedom.
	withinLean  = 4
	betweenLean = 4
	betweenRel  = 0.5
)

// shrink takes values[robot][match] (any number a robot, none included) and
// pulls each robot's mean towards the mean of all, by as much as the few
// matches it has do not tell (James and Stein 1961; Efron and Morris 1975,
// doi:10.1080/01621459.1975.10479864; variances by the method of moments):
//
//	y = m + a + e,  Var a = between,  Var e = within
//	mean = m + B·(ȳ − m),  B = between / (between + within/n)
//
// The false answer: nobody has a value.
func shrink(values [][]float64) (shrunken, bool) {
	robots, seen, all := 0.0, 0.0, 0.0
	means := make([]float64, len(values))
	for r, vs := range values {
		for _, v := range vs {
			means[r] += v
			all += v
		}
		if len(vs) > 0 {
			robots++
			seen += float64(len(vs))
			means[r] /= float64(len(vs))
		}
	}
	if robots == 0 {
		return shrunken{}, false
	}
	grand := all / seen
	s := shrunken{mean: make([]float64, len(values)), variance: make([]float64, len(values))}
	spread, inverse := 0.0, 0.0
	for r, vs := range values {
		for _, v := range vs {
			s.within += square(v - means[r])
		}
		if len(vs) > 0 {
			spread += square(means[r] - grand)
			inverse += 1 / float64(len(vs))
		}
	}
	s.within = (s.within + withinLean*math.Abs(grand)) / (seen - robots + withinLean)
	between := (spread + betweenLean*square(betweenRel*grand)) / (robots - 1 + betweenLean)
	between = math.Max(between-s.within*inverse/(robots+betweenLean), 0.1*between)

	// The mean of all, weighted by what each robot's mean is worth.
	var top, weight float64
	for r, vs := range values {
		if n := float64(len(vs)); n > 0 && between+s.within > 0 {
			w := 1 / (between + s.within/n)
			top += w * means[r]
			weight += w
		}
	}
	m, mVar := grand, 0.0
	if weight > 0 {
		m, mVar = top/weight, 1/weight
	}
	for r, vs := range values {
		b := 0.0
		if n := float64(len(vs)); n > 0 && between > 0 {
			b = between / (between + s.within/n)
		}
		s.mean[r] = m + b*(means[r]-m)
		s.variance[r] = (1-b)*between + square(1-b)*mVar
	}
	return s, true
}

// watched has the values of an action that scouts saw, by robot and match; two
// scouts of one robot count as their mean. value returns false for what was
// not watched. Absent robots and records that lost sight are left out.
func (e *evidence) watched(value func(*record.Observation) (float64, bool)) [][]float64 {
	out := make([][]float64, len(e.teams))
	for i := range e.sides {
		views := e.sides[i].views
		for a := 0; a < len(views); {
			b, sum, n := a, 0.0, 0.0
			for ; b < len(views) && views[b].robot == views[a].robot; b++ {
				if !e.complete(views[b].obs) {
					continue
				}
				if v, ok := value(views[b].obs); ok {
					sum += v
					n++
				}
			}
			if n > 0 {
				out[views[a].robot] = append(out[views[a].robot], sum/n)
			}
			a = b
		}
	}
	return out
}

// complete reports whether counts of the record are what the robot did: it was
// there, and the scout watched the whole match and did not lose sight of it.
func (e *evidence) complete(o *record.Observation) bool {
	if o.Absent || o.Part() {
		return false
	}
	q, ok := e.game.QuestionByRole(game.RoleLostSight)
	if !ok {
		return true
	}
	lost := o.Answers[q.ID].Flag
	return lost == nil || !*lost
}

func made(id string) func(*record.Observation) (float64, bool) {
	return func(o *record.Observation) (float64, bool) {
		t, ok := o.Counts[id]
		if !ok || t.Made == nil {
			return 0, false
		}
		return *t.Made, true
	}
}

func chose(id, option string) func(*record.Observation) (float64, bool) {
	return func(o *record.Observation) (float64, bool) {
		c, ok := o.Choices[id]
		if !ok || c.Option == "" {
			return 0, false
		}
		if c.Option == option {
			return 1, true
		}
		return 0, true
	}
}

// actions is every robot's shrunken mean of every action that somebody saw, in
// units per match in which it was seen; a choice by "action:option".
func (e *evidence) actions() []map[string]record.ActionEstimate {
	out := make([]map[string]record.ActionEstimate, len(e.teams))
	for r := range out {
		out[r] = map[string]record.ActionEstimate{}
	}
	put := func(key string, values [][]float64) bool {
		s, ok := shrink(values)
		if !ok {
			return false
		}
		for r := range out {
			out[r][key] = record.ActionEstimate{Mean: s.mean[r], SD: math.Sqrt(s.variance[r])}
		}
		return true
	}
	for i := range e.game.Actions {
		a := &e.game.Actions[i]
		switch {
		case a.ByAlliance():
		case a.Kind == game.Choice:
			for _, o := range a.Options {
				put(a.ID+":"+o.ID, e.watched(chose(a.ID, o.ID)))
			}
		case put(a.ID, e.watched(made(a.ID))) && a.Misses:
			for r, acc := range e.accuracies(a.ID) {
				est := out[r][a.ID]
				est.Accuracy = acc
				out[r][a.ID] = est
			}
		}
	}
	return out
}

func addUp(xs []float64) float64 {
	var s float64
	for _, x := range xs {
		s += x
	}
	return s
}

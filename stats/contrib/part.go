package contrib

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"sextant/stats/record"
)

// Part tells how an official component of an alliance goes with its robots: a
// mixed model as for totals, on the component. It is what is known of a
// component when nobody watched what robots did.
type Part struct {
	Mean  []float64 // by robot; an alliance's component is expected to be their sum
	cov   *mat.SymDense
	noise float64 // variance of a full alliance's component around the sum
	size  int
	// WithScore is how much the component goes up, in one match, with each point
	// that the alliance's own score is above what is expected.
	WithScore float64
	seen      []float64 // values of all alliances, in order of size
	middle    float64   // their mean
	spread    float64   // and standard deviation
}

// enoughParts is the least number of alliances whose component was published.
const enoughParts = 6

// enoughShape is the least number of alliances whose values tell of a shape.
const enoughShape = 20

// Variance of the component of an alliance of the given robots around the sum
// of their Mean, what is not known of the robots included.
func (p *Part) Variance(robots ...int) float64 {
	v := p.noise * float64(len(robots)) / float64(p.size)
	for _, i := range robots {
		for _, j := range robots {
			v += p.cov.At(i, j)
		}
	}
	return v
}

// Shaped gives a value y of the model's normal law the shape of what was seen:
// a component of few and unequal steps has values that no normal law has. It is
// the value that alliances had as often below it as the normal law of all
// values has below y. While few were seen, and beyond them, y stays.
func (p *Part) Shaped(y float64) float64 {
	n := len(p.seen)
	if n < enoughShape || p.spread == 0 {
		return y
	}
	at := float64(n) * math.Erfc((p.middle-y)/(p.spread*math.Sqrt2)) / 2
	switch {
	case at < 1:
		return math.Min(y, p.seen[0])
	case at >= float64(n-1):
		return math.Max(y, p.seen[n-1])
	}
	return p.seen[int(at)]
}

// Parts has what official results tell of each of Game.Components; nil where
// too few alliances had it published.
func (f *Fit) Parts() []*Part { return f.parts() }

// partsOf fits every component of the game that was published.
func partsOf(ev *record.Event, e *evidence) []*Part {
	out := make([]*Part, len(ev.Game.Components))
	for k := range ev.Game.Components {
		out[k] = partOf(ev, e, ev.Game.Components[k].ID)
	}
	return out
}

func partOf(ev *record.Event, e *evidence, id string) *Part {
	var values, scores []total
	counts := countedPlays(ev)
	for i := range ev.Matches {
		for _, c := range []record.Colour{record.Red, record.Blue} {
			a := ev.Matches[i].Side(c)
			if !counts[i] {
				continue
			}
			v, ok := a.Result.Components[id]
			robots := e.there(a)
			if !ok || len(robots) == 0 {
				continue
			}
			values = append(values, total{robots, v})
			scores = append(scores, total{robots, a.Result.Own()})
		}
	}
	if len(values) < enoughParts {
		return nil
	}
	part, own := e.fitTotals(values), e.fitTotals(scores)
	if part == nil || own == nil {
		return nil
	}
	// What is left of both goes together: a good match has more of everything.
	// Leaning on independence while there is little.
	var both, square float64
	for i := range values {
		a, b := part.left(&values[i]), own.left(&scores[i])
		both += a * b
		square += b * b
	}
	const lean = 10
	square += lean * own.noise
	out := &Part{Mean: part.mean, cov: part.cov, noise: part.noise, size: e.size}
	for i := range values {
		out.seen = append(out.seen, values[i].own)
	}
	slices.Sort(out.seen)
	out.middle, out.spread = stat.MeanStdDev(out.seen, nil)
	if square > 0 {
		out.WithScore = both / square
	}
	return out
}

// there are the robots of an alliance that took part.
func (e *evidence) there(a *record.Alliance) (out []int) {
	absent := map[record.TeamID]bool{}
	for _, t := range a.Absent {
		absent[t] = true
	}
	for _, t := range a.Teams {
		if r, ok := e.index[t]; ok && !absent[t] {
			out = append(out, r)
		}
	}
	return out
}

// fitTotals is the mixed model on some totals; nil if it cannot be solved.
func (e *evidence) fitTotals(totals []total) *Baseline {
	n := len(e.teams)
	b := &Baseline{teams: e.teams, index: e.index, size: e.size, mean: make([]float64, n), cov: mat.NewSymDense(n, nil)}
	if err := b.mixed(totals); err != nil || math.IsNaN(b.noise) {
		return nil
	}
	return b
}

// left is what of a total its robots do not explain.
func (b *Baseline) left(t *total) float64 {
	y := t.own
	for _, r := range t.robots {
		y -= b.mean[r]
	}
	return y
}

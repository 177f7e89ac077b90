package contrib

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"sextant/stats/record"
)

// This file is the third layer, official totals and scouts' records together,
// and the one place that a better model of the records replaces. What goes in
// is evidence, what comes out is a fused. Everything that the other packages
// see is made from that.
//
// The model, in points, for robot i in a match of which it could use the share
// w (see exposure):
//
//	p = w·θᵢ + e,     Var e = φ²·w        what it really did; two robots of an alliance
//	                                      have luck of correlation κ (scarce pieces: below 0)
//	y = Σ p + rest,   Var rest = ρ²·Σw/m  official own score of the alliance (m robots)
//	z = p − w·c + ε,  Var ε = r² + fill   a scout's record, filled where cells are empty
//	θᵢ = μ/m + uᵢ,    uᵢ ~ N(0, τ²)       and m·φ²·(1 + (m − 1)·κ) + ρ² = σ²
//	c ~ N(0, (0.2 s)²)                    what records leave out of a robot's points
//
// All rows of one alliance and match are one block, so that y and z share the
// match's own luck e: three perfectly watched robots leave nothing for y to
// add, and one unwatched robot is filled in by y less the others. What records
// tell and what totals tell then add up as precisions (inverse covariances),
// and the full covariance of the robots is kept. With no record, only y is
// left, and the answer is the mixed model of mixed.go.

// Components are the standard deviations of the model, in points. They can be
// kept from one estimate to the next (Options.Components).
type Components struct {
	Robot  float64 // τ, between robots
	Match  float64 // σ, an alliance's total around the sum of its robots
	Record float64 // r, a scout's record around what the robot did
	Rest   float64 // ρ, the part of σ that no record shows
	Shared float64 // κ, the correlation of two partners' luck; not in points
}

// luck is φ², the variance of one robot's luck in an alliance of size.
func (c Components) luck(size int) float64 {
	m := float64(size)
	return (square(c.Match) - square(c.Rest)) / (m * (1 + (m-1)*c.Shared))
}

// allianceVariance is the variance of what robots with the given exposures
// score together, around the sum of their means. Each exposure may have been
// multiplied by how much that robot's luck exceeds the mean robot's.
func (c Components) allianceVariance(w []float64, size int) float64 {
	sum, root := 0.0, 0.0
	for _, v := range w {
		sum += v
		root += math.Sqrt(v)
	}
	luck := c.luck(size)
	return luck*(sum+c.Shared*(root*root-sum)) + square(c.Rest)/float64(size)*sum
}

// Priors of what totals alone cannot tell, in units of s (the mean own score
// per robot), as the middle of a log-normal law.
const (
	priorRecordSD    = 0.13 // a careful count is off by a tenth of what a robot scores
	recordLogSD      = 0.5
	priorRestShare   = 0.03 // of σ²; the law is on the logit
	restLogitSD      = 1.5
	sharedSD         = 0.15 // of κ around 0
	priorOffsetSD    = 0.2  // of c
	markSD           = 0.35 // how much a mark lets a robot change: less than robots differ (0.55)
	maxOutlierRounds = 2
	outlierLimit     = 4 // in standard deviations, given the rest of its match
)

// fused is the answer of the third layer: robots' strength while nothing stops them.
type fused struct {
	event, now       []float64 // θ over the event; θ from here on (marks included)
	eventCov, nowCov *mat.SymDense
	components       Components
	logLik           float64
	rows, records    int
}

// fuse combines totals and records. keep, if not nil, are the variance
// components to use instead of estimating them.
func fuse(e *evidence, x *exposure, prior *knowledge, keep *Components) (*fused, error) {
	f := &fusion{e: e, x: x, prior: prior, scale: robotScale(e.totals())}
	f.lay()
	if f.totals+f.records == 0 && prior == nil {
		return nil, ErrNoData
	}
	if len(e.totals()) == 0 {
		f.scale = f.recordScale()
	}
	c := Components{}
	if keep != nil {
		c = *keep
	} else {
		var err error
		if c, err = f.totalsOnly(); err != nil {
			return nil, err
		}
	}
	for round := 0; ; round++ {
		if keep == nil && f.records > 0 {
			var err error
			size := 0.25
			if round > 0 {
				size = 0.05 // a few records lost weight: the optimum is near
			}
			if c, err = f.maximise(c, size); err != nil {
				return nil, err
			}
		}
		post, err := f.system(c).solve(f.variances(c))
		if err != nil {
			return nil, err
		}
		if f.records == 0 || round == maxOutlierRounds || !f.doubt(c, post) {
			return f.answer(c, post), nil
		}
	}
}

// fusion is the data laid out for the model's blocks.
type fusion struct {
	e       *evidence
	x       *exposure
	prior   *knowledge // nil: nothing is known from before
	scale   float64
	groups  []group
	records int
	totals  int
}

// group is one alliance in one match: its total, if it counts, and its records.
type group struct {
	cols   []int // effects
	theta  []int // positions in cols of each robot's own effects, flattened; see first
	first  []int // theta[first[k]:first[k+1]] belong to robot k
	w      []float64
	y      *float64
	rows   []recordRow
	effect int // position of c in cols
}

type recordRow struct {
	robot   int // position in the group
	z, fill float64
	doubt   float64 // variance added because the record is an outlier
}

func (f *fusion) offsetColumn() int { return len(f.e.teams) + len(f.e.marks) }
func (f *fusion) effects() int      { return f.offsetColumn() + 1 }

// shift is how far robot r is expected to be from the mean of all.
func (f *fusion) shift(r int) float64 {
	if f.prior == nil {
		return 0
	}
	return f.prior.shift[r]
}

// lay makes the groups. A robot that was absent all match has no row.
func (f *fusion) lay() {
	w := newWorth(f.e)
	for i := range f.e.sides {
		s := &f.e.sides[i]
		g := group{first: []int{0}}
		place := map[int]int{}
		var exposure float64
		for k, r := range s.robots {
			place[r] = k
			g.w = append(g.w, f.x.w[i][k])
			exposure += f.x.w[i][k]
			g.theta = append(g.theta, len(g.cols))
			g.cols = append(g.cols, r)
			for q, m := range f.e.marks {
				if f.e.index[m.Team] == r && m.Match.Compare(s.match) <= 0 {
					g.theta = append(g.theta, len(g.cols))
					g.cols = append(g.cols, len(f.e.teams)+q)
				}
			}
			g.first = append(g.first, len(g.theta))
		}
		g.effect = len(g.cols)
		g.cols = append(g.cols, f.offsetColumn())
		if s.own != nil && exposure > 0 {
			g.y = s.own
			f.totals++
		}
		for _, v := range s.views {
			k := place[v.robot]
			if z, fill, ok := w.points(v.obs); ok && g.w[k] > 0 {
				g.rows = append(g.rows, recordRow{robot: k, z: z, fill: fill})
				f.records++
			}
		}
		if g.y != nil || len(g.rows) > 0 {
			f.groups = append(f.groups, g)
		}
	}
}

// recordScale is s when there is no total: from records, or else from what is
// known from before.
func (f *fusion) recordScale() float64 {
	var points, w float64
	for _, g := range f.groups {
		for _, r := range g.rows {
			points += math.Abs(r.z)
			w += g.w[r.robot]
		}
	}
	if points == 0 && f.prior != nil {
		points, w = math.Abs(f.prior.level), 1
	}
	if points == 0 || w == 0 {
		return 1
	}
	return points / w
}

// totalsOnly is the components by REML on totals, with priors for the rest.
func (f *fusion) totalsOnly() (Components, error) {
	size := float64(f.e.size)
	tau2, sigma2 := square(priorRobotSD*f.scale), size*square(priorMatchSD*f.scale)
	if totals := f.e.totals(); len(totals) > 0 {
		var err error
		if tau2, sigma2, err = reml(totals, len(f.e.teams), f.e.size, f.scale); err != nil {
			return Components{}, err
		}
	}
	return Components{
		Robot: math.Sqrt(tau2), Match: math.Sqrt(sigma2),
		Record: priorRecordSD * f.scale, Rest: math.Sqrt(priorRestShare * sigma2),
	}, nil
}

// variances is the prior variance of every effect.
func (f *fusion) variances(c Components) []float64 {
	g := make([]float64, f.effects())
	for r := range f.e.teams {
		g[r] = square(c.Robot)
		if f.prior != nil {
			if v, ok := f.prior.variance[r]; ok {
				g[r] = v
			}
		}
	}
	for q := range f.e.marks {
		g[len(f.e.teams)+q] = square(markSD * f.scale)
	}
	g[f.offsetColumn()] = square(priorOffsetSD * f.scale)
	return g
}

// system adds up all groups for given components.
func (f *fusion) system(c Components) *system {
	s := newSystem(f.effects())
	var buf block
	for i := range f.groups {
		f.fill(&buf, &f.groups[i], c)
		s.add(&buf)
	}
	if p := f.prior; p != nil {
		s.add(&block{
			h: [][]float64{{}}, x: []float64{1 / float64(f.e.size)}, y: []float64{p.level},
			v: [][]float64{{square(math.Max(priorLevelSD*math.Abs(p.level), minNoise*f.scale))}},
		})
	}
	return s
}

// fill writes a group's rows into b: the total first, then the records.
func (f *fusion) fill(b *block, g *group, c Components) {
	luck := c.luck(f.e.size)
	n := len(g.rows)
	if g.y != nil {
		n++
	}
	b.resize(n, len(g.cols))
	b.cols = g.cols
	i := 0
	if g.y != nil {
		b.y[0] = *g.y
		for k := range g.w {
			f.touch(b, 0, g, k)
		}
		b.v[0][0] = c.allianceVariance(g.w, f.e.size)
		i = 1
	}
	for j, r := range g.rows {
		row := i + j
		b.y[row] = r.z
		f.touch(b, row, g, r.robot)
		b.h[row][g.effect] = -g.w[r.robot]
		w := g.w[r.robot]
		b.v[row][row] = luck*w + square(c.Record) + r.fill + r.doubt
		if i == 1 {
			shared := w
			for k, other := range g.w {
				if k != r.robot {
					shared += c.Shared * math.Sqrt(w*other)
				}
			}
			b.v[row][0] = luck * shared
		}
		for l, other := range g.rows[:j] {
			if other.robot == r.robot {
				b.v[row][i+l] = luck * w
			} else {
				b.v[row][i+l] = luck * c.Shared * math.Sqrt(w*g.w[other.robot])
			}
		}
	}
}

// touch adds robot k of the group, by its exposure, to a row whose y is set.
func (f *fusion) touch(b *block, row int, g *group, k int) {
	own := g.theta[g.first[k]:g.first[k+1]]
	for _, q := range own {
		b.h[row][q] += g.w[k]
	}
	b.x[row] += g.w[k] / float64(f.e.size)
	b.y[row] -= g.w[k] * f.shift(g.cols[own[0]]) // the first of a robot's effects is the robot itself
}

// maximise finds the components by the restricted likelihood of totals and
// records, times the priors: those of mixed.go while there are few totals, and
// those above for what totals do not tell. It starts from c and a simplex of the
// given size, in logarithms.
func (f *fusion) maximise(c Components, simplex float64) (Components, error) {
	size := float64(f.e.size)
	missing := missingTotals(f.totals)
	noise := size * square(priorMatchSD*f.scale)
	ratio := math.Log(priorRobotSD * f.scale / math.Sqrt(noise))
	low, high := -0.9/math.Max(1, size-1), 0.9 // of κ: the luck of an alliance's sum stays above 0
	logit := func(share float64) float64 { return math.Log(share / (1 - share)) }
	unpack := func(p []float64) Components {
		sigma2 := math.Exp(2 * p[1])
		return Components{
			Robot: math.Exp(p[0]), Match: math.Exp(p[1]), Record: math.Exp(p[2]),
			Rest: math.Sqrt(sigma2 / (1 + math.Exp(-p[3]))), Shared: low + (high-low)/(1+math.Exp(-p[4])),
		}
	}
	middle := []float64{math.Log(f.scale), math.Log(f.scale), math.Log(f.scale), 0, 0}
	start := []float64{
		math.Log(math.Max(c.Robot, 0.1*c.Match)), math.Log(c.Match), math.Log(c.Record),
		logit(math.Min(0.9, math.Max(1e-4, square(c.Rest/c.Match)))),
		logit((c.Shared - low) / (high - low)),
	}
	objective := func(p []float64) float64 {
		for k, v := range p {
			// Outside lies nothing but the loss of all digits.
			if limit := 12.0; math.Abs(v-middle[k]) > limit {
				return math.Inf(1)
			}
		}
		c := unpack(p)
		value := -2 * f.system(c).logLikelihood(f.variances(c))
		value += missing * (2*p[1] + noise*math.Exp(-2*p[1]))
		value += missing / (enoughTotals - 1) * square((p[0]-p[1]-ratio)/priorRatioLogSD)
		value += square((p[2] - math.Log(priorRecordSD*f.scale)) / recordLogSD)
		value += square((p[3] - logit(priorRestShare)) / restLogitSD)
		value += square(c.Shared / sharedSD)
		if f.prior != nil { // robots that are known from before tell nothing about τ
			value += square((p[0] - start[0]) / priorRatioLogSD)
		}
		if math.IsNaN(value) {
			return math.Inf(1)
		}
		return value
	}
	result, err := optimize.Minimize(optimize.Problem{Func: objective}, start,
		&optimize.Settings{
			FuncEvaluations: 2000,
			Converger:       &optimize.FunctionConverge{Absolute: 1e-9, Iterations: 20},
		}, &optimize.NelderMead{SimplexSize: simplex})
	if err != nil {
		return Components{}, fmt.Errorf("fit the variance components: %w", err)
	}
	return unpack(result.X), nil
}

// doubt looks for records that fit neither the robot nor the rest of their
// match, and adds to their variance what they are off by. It reports whether
// it found one. In a block with residuals d and covariance V, row j is off by
// (V⁻¹d)ⱼ / (V⁻¹)ⱼⱼ given the others, with variance 1/(V⁻¹)ⱼⱼ.
func (f *fusion) doubt(c Components, p *posterior) bool {
	found := false
	for i := range f.groups {
		g := &f.groups[i]
		if len(g.rows) == 0 {
			continue
		}
		var b block
		f.fill(&b, g, c)
		n := len(b.y)
		v := mat.NewSymDense(n, nil)
		d := mat.NewVecDense(n, nil)
		for r := range n {
			res := b.y[r] - b.x[r]*p.mu
			for q, col := range b.cols {
				res -= b.h[r][q] * p.u[col]
			}
			d.SetVec(r, res)
			for l := range r + 1 {
				v.SetSym(r, l, b.v[r][l])
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(v) {
			continue
		}
		var inv mat.SymDense
		var e mat.VecDense
		if chol.InverseTo(&inv) != nil || chol.SolveVecTo(&e, d) != nil {
			continue
		}
		first := n - len(g.rows)
		for j := range g.rows {
			w := inv.At(first+j, first+j)
			if off := e.AtVec(first+j) / w; math.Abs(off)*math.Sqrt(w) > outlierLimit {
				g.rows[j].doubt += off * off
				found = true
			}
		}
	}
	return found
}

// answer projects the posterior to robots.
func (f *fusion) answer(c Components, p *posterior) *fused {
	n := len(f.e.teams)
	d := make([]float64, n)
	event, now := mat.NewDense(n, f.effects(), nil), mat.NewDense(n, f.effects(), nil)
	for r := range n {
		d[r] = 1 / float64(f.e.size)
		event.Set(r, r, 1)
		now.Set(r, r, 1)
	}
	for q, m := range f.e.marks {
		r := f.e.index[m.Team]
		before, after := f.e.around(r, m.Match)
		now.Set(r, n+q, 1)
		if before+after > 0 {
			event.Set(r, n+q, after/(before+after))
		}
	}
	out := &fused{components: c, logLik: p.logLik, rows: f.totals + f.records, records: f.records}
	out.event, out.eventCov = p.project(event, d)
	out.now, out.nowCov = p.project(now, d)
	for r := range n {
		out.event[r] += f.shift(r)
		out.now[r] += f.shift(r)
	}
	return out
}

// around counts the matches with a result that robot r played before, and from, match m.
func (e *evidence) around(r int, m record.MatchID) (before, after float64) {
	for i := range e.sides {
		s := &e.sides[i]
		for _, q := range s.robots {
			if q != r || s.own == nil {
				continue
			}
			if s.match.Compare(m) < 0 {
				before++
			} else {
				after++
			}
		}
	}
	return before, after
}

package check

import (
	"math"
	"slices"

	"sextant/stats/contrib"
)

// jumper has what all robots share.
type jumper struct {
	t     *table
	fit   *contrib.Fit
	rates [][]float64 // by cell: the rates looked at
	prior [][]float64 // and what is believed of each
	level []float64   // the same of points of everything together
	whole []float64
	scale float64 // mean points of a robot
	cells []int   // that are looked at
}

func (j *jumper) lay() {
	t := j.t
	j.rates, j.prior = make([][]float64, len(t.cells)), make([][]float64, len(t.cells))
	for k := range t.cells {
		c := &t.cells[k]
		if c.missed || c.action < 0 {
			continue
		}
		j.cells = append(j.cells, k)
		if c.kind != countCell {
			continue
		}
		most := 0.0
		for _, r := range t.rows {
			if x := r.vals[k]; r.usable() && x > most {
				most = x
			}
		}
		pr := &t.profiles.prior[k]
		g := make([]float64, jumpGrid)
		p := make([]float64, jumpGrid)
		step := math.Log((1.5*most+1)/leastRate) / (jumpGrid - 1)
		shape, rate := pr.mean*pr.mean/pr.between, pr.mean/pr.between
		for i := range g {
			g[i] = leastRate * math.Exp(step*float64(i))
			p[i] = math.Exp(shape*math.Log(g[i]) - rate*g[i]) // density on the log scale
		}
		normalise(p)
		// Robots that never do it at all.
		never, robots := 0.5, 1.0
		for r := range t.teams {
			if t.profiles.share[r][k] > 2 {
				robots++
				if t.profiles.sum[r][k] == 0 {
					never++
				}
			}
		}
		for i := range p {
			p[i] *= 1 - never/robots
		}
		p[0] += never / robots
		j.rates[k], j.prior[k] = g, p
	}
	var mean, square2 float64
	n := float64(len(j.fit.Teams()))
	for i := range j.fit.Teams() {
		mean += math.Max(0, j.fit.Strength(i)) / n
	}
	for i := range j.fit.Teams() {
		square2 += square(j.fit.Strength(i)-mean) / n
	}
	j.scale = math.Max(mean, 1e-6)
	sd := math.Sqrt(square2 + square(0.2*j.scale))
	top := mean + 5*sd
	j.level, j.whole = make([]float64, jumpGrid), make([]float64, jumpGrid)
	for i := range j.level {
		j.level[i] = top * float64(i) / (jumpGrid - 1)
		j.whole[i] = math.Exp(-0.5 * square((j.level[i]-mean)/sd))
	}
	normalise(j.whole)
}

func normalise(p []float64) {
	var sum float64
	for _, x := range p {
		sum += x
	}
	for i := range p {
		p[i] /= sum
	}
}

// segments takes the log likelihood of each match under each rate, and gives that
// of all matches under one rate, at 0, and under one before and another from a
// match on, at the index of the match.
func segments(logs [][]float64, prior []float64, joint func(before, after []float64) float64) []float64 {
	n := len(logs)
	sums := make([][]float64, n+1) // by matches taken in
	sums[0] = make([]float64, len(prior))
	for i, l := range logs {
		sums[i+1] = slices.Clone(sums[i])
		for g := range l {
			sums[i+1][g] += l[g]
		}
	}
	all, shift := shifted(sums[n], nil)
	same := 0.0
	for g, p := range prior {
		same += p * all[g]
	}
	out := make([]float64, n)
	out[0] = math.Log(same) + shift
	for pos := jumpSide; pos <= n-jumpSide; pos++ {
		before, a := shifted(sums[pos], nil)
		after, b := shifted(sums[n], sums[pos])
		out[pos] = math.Log(joint(before, after)) + a + b
	}
	return out
}

// steady is how a robot may scatter from match to match against all others, and
// how likely that is; plausible.
var steady = [...]struct{ factor, weight float64 }{{0.25, 0.2}, {0.5, 0.3}, {1, 0.3}, {2, 0.2}}

// ratios are log Bayes factors of a change at each match, with how the robot
// scatters integrated out.
func ratios(n int, of func(factor float64) []float64) []float64 {
	all := make([][]float64, len(steady))
	for i, s := range steady {
		all[i] = of(s.factor)
	}
	mix := func(pos int) float64 {
		top := math.Inf(-1)
		for i := range all {
			top = math.Max(top, all[i][pos])
		}
		var sum float64
		for i, s := range steady {
			sum += s.weight * math.Exp(all[i][pos]-top)
		}
		return top + math.Log(sum)
	}
	out := make([]float64, n)
	same := mix(0)
	for pos := jumpSide; pos <= n-jumpSide; pos++ {
		out[pos] = mix(pos) - same
	}
	return out
}

// shifted is exp(x − y) over its largest, and the log of that.
func shifted(x, y []float64) ([]float64, float64) {
	out := slices.Clone(x)
	for i := range y {
		out[i] -= y[i]
	}
	top := slices.Max(out)
	for i := range out {
		out[i] = math.Exp(out[i] - top)
	}
	return out, top
}

// together compares the points of everything.
func (j *jumper) together(robot int, plays []watchedPlay) []float64 {
	points := make([]float64, len(plays))
	for i := range plays {
		points[i] = j.points(robot, &plays[i])
	}
	kernel := normalKernel(j.level[1]-j.level[0], jumpPoints*j.scale)
	return ratios(len(plays), func(factor float64) []float64 {
		logs := make([][]float64, len(plays))
		for i := range plays {
			v := &plays[i]
			logs[i] = j.strayed(j.whole, func(g int) float64 {
				m := j.level[g] * v.w
				variance := factor*j.fit.LuckVar(j.level[g], v.w) + square(scoutSD*m)/v.n + square(0.05*j.scale)
				return math.Exp(-0.5*square(points[i]-m)/variance) / math.Sqrt(variance)
			})
		}
		return segments(logs, j.whole, func(before, after []float64) float64 { return kernel.moved(j.whole, before, after) })
	})
}

// strayed is the log likelihood of a match under each rate, if it may be
// another robot's as well.
func (j *jumper) strayed(prior []float64, likelihood func(g int) float64) []float64 {
	l := make([]float64, len(prior))
	var any float64
	for g, p := range prior {
		l[g] = likelihood(g)
		any += p * l[g]
	}
	for g := range l {
		l[g] = math.Log((1-jumpStray)*l[g] + jumpStray*any + 1e-300)
	}
	return l
}

// kernel is a normal law of the size of a change on a grid of equal steps, and
// its sum from each point of the grid.
type kernel struct{ at, norm []float64 }

func normalKernel(step, sd float64) kernel {
	k := kernel{make([]float64, jumpGrid), make([]float64, jumpGrid)}
	for d := range k.at {
		k.at[d] = math.Exp(-0.5 * square(step*float64(d)/sd))
	}
	for g := range k.norm {
		for h := range k.norm {
			k.norm[g] += k.at[max(g-h, h-g)]
		}
	}
	return k
}

// moved is the likelihood of one rate before and another after.
func (k *kernel) moved(prior, before, after []float64) float64 {
	var sum float64
	for g, p := range prior {
		if p *= before[g]; p < 1e-12 {
			continue
		}
		var to float64
		for h, a := range after {
			to += k.at[max(g-h, h-g)] * a
		}
		sum += p * to / k.norm[g]
	}
	return sum
}

// of compares one action.
func (j *jumper) of(k int, plays []watchedPlay) []float64 {
	c := &j.t.cells[k]
	if c.kind != countCell {
		return j.choices(k, plays)
	}
	rates, prior := j.rates[k], j.prior[k]
	law := normalKernel(math.Log(rates[1]/rates[0]), jumpLog)
	return ratios(len(plays), func(factor float64) []float64 {
		over := factor * j.t.profiles.prior[k].over
		size := 1 / over
		logs := make([][]float64, len(plays))
		for i := range plays {
			x, w := plays[i].vals[k], plays[i].exposed(c)
			if math.IsNaN(x) {
				logs[i] = make([]float64, jumpGrid)
				continue
			}
			head := lgamma(x+size) - lgamma(size) - lgamma(x+1)
			logs[i] = j.strayed(prior, func(g int) float64 {
				m := math.Max(0.02, rates[g]*w)
				return math.Exp(head - (size+x)*math.Log1p(over*m) + x*math.Log(over*m))
			})
		}
		return segments(logs, prior, func(before, after []float64) float64 {
			var stops, starts float64
			for g, p := range prior {
				stops += p * before[g]
				starts += p * after[g]
			}
			return (1-2*jumpDead)*law.moved(prior, before, after) + jumpDead*stops*after[0] + jumpDead*starts*before[0]
		})
	})
}

// choices compares shares of options, which follow a Dirichlet law around those
// of the field before and after.
func (j *jumper) choices(k int, plays []watchedPlay) []float64 {
	chance := j.t.profiles.prior[k].chance
	n := len(plays)
	sums := make([][]float64, n+1)
	sums[0] = make([]float64, len(chance))
	for i := range plays {
		sums[i+1] = slices.Clone(sums[i])
		if x := plays[i].vals[k]; !math.IsNaN(x) {
			sums[i+1][min(max(0, int(x)), len(chance)-1)]++
		}
	}
	log := func(to, from []float64) float64 {
		var l, all, weight float64
		for o, c := range chance {
			a := choiceWeight * c
			m := to[o] - from[o]
			l += lgamma(a+m) - lgamma(a)
			all += m
			weight += a
		}
		return l + lgamma(weight) - lgamma(weight+all)
	}
	out := make([]float64, n)
	for pos := jumpSide; pos <= n-jumpSide; pos++ {
		out[pos] = log(sums[pos], sums[0]) + log(sums[n], sums[pos]) - log(sums[n], sums[0])
	}
	return out
}

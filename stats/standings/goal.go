package standings

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// Goal is what ending at place Top or better hangs on. Chances are shares of
// runs; an SE is the standard error of that by the number of runs.
type Goal struct {
	Top    int     `json:"top"`
	Chance float64 `json:"chance"`
	SE     float64 `json:"se"`
	// Matters are the conditions that move the chance, most first; what moves
	// it less than can be told from luck is left out.
	Matters []Matter `json:"matters" nullable:"false"`
	// Points is the chance by how many more ranking points we collect.
	Points []ByPoints `json:"points" nullable:"false"`
	// Enough: sets of conditions on our own matches with which the goal is
	// reached in 90 % of the runs or more: none that holds a smaller one,
	// likeliest first.
	Enough []Conditions `json:"enough" nullable:"false"`
	// Tree asks at each step for what tells most.
	Tree Node `json:"tree"`
}

// Matter is how much one condition matters.
type Matter struct {
	Happening
	Chance float64 `json:"chance"` // that it comes about
	// Given and Otherwise are the chances of the goal when it does and when it
	// does not. They hold what it tells about robots, too.
	Given     float64 `json:"given"`
	Otherwise float64 `json:"otherwise"`
	SE        float64 `json:"se"` // of Given − Otherwise
	// Effect is the difference that the ranking points themselves make, all
	// else in each run as it was drawn.
	Effect   float64 `json:"effect"`
	EffectSE float64 `json:"effect_se"`
}

// ByPoints is the chance of the goal by ranking points that we still collect.
type ByPoints struct {
	Points  float64 `json:"points"`
	Chance  float64 `json:"chance"`   // to collect just as many
	Given   float64 `json:"given"`    // chance of the goal with just as many
	AtLeast float64 `json:"at_least"` // with as many or more
}

// Conditions hold all at once.
type Conditions struct {
	All    []Happening `json:"all" nullable:"false"`
	Chance float64     `json:"chance"` // that all come about
	Given  float64     `json:"given"`  // chance of the goal then
	SE     float64     `json:"se"`     // of Given
}

// Node is a group of runs, and what divides it best.
type Node struct {
	Share  float64    `json:"share"`  // of all runs
	Chance float64    `json:"chance"` // of the goal in the group
	SE     float64    `json:"se"`
	Asks   *Happening `json:"asks,omitempty"`
	Yes    *Node      `json:"yes,omitempty"`
	No     *Node      `json:"no,omitempty"`
}

// Has reports whether the outlook was made for a team of ours.
func (o *Outlook) Has() bool { return o.us >= 0 }

// Goal of place top or better, top at least 1, for the team that the outlook
// was made for. Without one it is the zero Goal.
func (o *Outlook) Goal(top int) Goal {
	g := Goal{Top: top, Matters: []Matter{}, Points: []ByPoints{}, Enough: []Conditions{}}
	if o.us < 0 {
		return g
	}
	reached := make([]uint64, (o.Runs+63)/64)
	all := make([]uint64, len(reached))
	for run, r := range o.rank {
		all[run/64] |= 1 << (run % 64)
		if int(r) <= top {
			reached[run/64] |= 1 << (run % 64)
		}
	}
	g.Chance, g.SE = share(runsIn(reached), o.Runs)
	g.Matters = o.matters(reached, top)
	g.Points = o.byPoints(top)
	g.Enough = o.enough(reached)
	g.Tree = *o.grow(all, reached, 0)
	return g
}

// share is k of n with its standard error; of none it is 0 with error 1. One
// run more of each kind keeps the error of 0 and 1 above zero.
func share(k, n int) (p, se float64) {
	if n == 0 {
		return 0, 1
	}
	q := (float64(k) + 1) / (float64(n) + 2)
	return float64(k) / float64(n), math.Sqrt(q * (1 - q) / float64(n))
}

// clear is how many standard errors set a difference apart from luck: with some
// hundred conditions looked at, fewer than one in ten outlooks names a wrong one.
const clear = 4

func (o *Outlook) matters(reached []uint64, top int) []Matter {
	out := []Matter{}
	total := runsIn(reached)
	for c := range o.what {
		n := runsIn(o.bits[c])
		with := runsInBoth(o.bits[c], reached)
		m := Matter{Happening: o.what[c], Chance: float64(n) / float64(o.Runs)}
		if n == 0 || n == o.Runs {
			continue
		}
		var a, b float64
		m.Given, a = share(with, n)
		m.Otherwise, b = share(total-with, o.Runs-n)
		m.SE = math.Hypot(a, b)
		m.Effect, m.EffectSE = o.effect(c, top)
		if math.Abs(m.Effect) > clear*m.EffectSE || math.Abs(m.Given-m.Otherwise) > clear*m.SE {
			out = append(out, m)
		}
	}
	slices.SortStableFunc(out, func(x, y Matter) int { return cmp.Compare(y.weight(), x.weight()) })
	return out
}

// weight is the part of the goal's variance that the condition explains.
func (m *Matter) weight() float64 {
	return m.Chance * (1 - m.Chance) * (m.Given - m.Otherwise) * (m.Given - m.Otherwise)
}

// effect is the mean over runs of goal with − goal without, paired.
func (o *Outlook) effect(c, top int) (mean, se float64) {
	var up, down int32
	for k := 0; k <= top && k < len(o.up[c]); k++ {
		up, down = up+o.up[c][k], down+o.down[c][k]
	}
	n := float64(o.Runs)
	mean = float64(up-down) / n
	return mean, math.Sqrt(math.Max(0, float64(up+down+1)/n-mean*mean) / n)
}

func (o *Outlook) byPoints(top int) []ByPoints {
	type count struct{ n, got int }
	by := map[float64]*count{}
	for run, p := range o.points {
		p = math.Round(p*1e6) / 1e6
		if by[p] == nil {
			by[p] = &count{}
		}
		by[p].n++
		if int(o.rank[run]) <= top {
			by[p].got++
		}
	}
	out := []ByPoints{}
	for p, c := range by {
		out = append(out, ByPoints{Points: p, Chance: float64(c.n) / float64(o.Runs), Given: float64(c.got) / float64(c.n)})
	}
	slices.SortFunc(out, func(x, y ByPoints) int { return cmp.Compare(x.Points, y.Points) })
	var n, got int
	for k := len(out) - 1; k >= 0; k-- {
		c := by[out[k].Points]
		n, got = n+c.n, got+c.got
		out[k].AtLeast = float64(got) / float64(n)
	}
	return out
}

// What a set of conditions must do to be called enough, and how much is tried.
const (
	surely      = 0.9
	ownTried    = 14 // of our own conditions, those that help most
	mostAtOnce  = 3
	mostSets    = 12
	rareRuns    = 100 // a group of fewer runs tells too little
	treeDepth   = 3
	mostUseless = 0.02 // a division that explains less of the goal's variance is none
)

// enough looks at every set of up to three of our own conditions.
func (o *Outlook) enough(reached []uint64) []Conditions {
	var own []int
	total := runsIn(reached)
	if total > int(surely*float64(o.Runs)) {
		return []Conditions{} // nothing need happen
	}
	gain := func(c int) float64 {
		n := runsIn(o.bits[c])
		with, _ := share(runsInBoth(o.bits[c], reached), n)
		return with - float64(total)/float64(o.Runs)
	}
	for c := range o.what {
		if o.what[c].Ours && runsIn(o.bits[c]) >= rareRuns && gain(c) > 0 && o.what[c].Outcome != "tie" {
			own = append(own, c)
		}
	}
	slices.SortStableFunc(own, func(x, y int) int { return cmp.Compare(gain(y), gain(x)) })
	own = own[:min(len(own), ownTried)]
	type found struct {
		picks []int
		Conditions
	}
	var sets []found
	var add func(picks []int, in []uint64, from int)
	add = func(picks []int, in []uint64, from int) {
		for k := from; k < len(own); k++ {
			next := slices.Concat(picks, own[k:k+1])
			if slices.ContainsFunc(sets, func(f found) bool { return contains(next, f.picks) }) {
				continue
			}
			both := make([]uint64, len(in))
			for i := range both {
				both[i] = in[i] & o.bits[own[k]][i]
			}
			n := runsIn(both)
			if n < rareRuns {
				continue
			}
			given, se := share(runsInBoth(both, reached), n)
			if given >= surely {
				f := found{picks: next, Conditions: Conditions{Chance: float64(n) / float64(o.Runs), Given: given, SE: se}}
				for _, c := range next {
					f.All = append(f.All, o.what[c])
				}
				sets = append(sets, f)
			} else if len(next) < mostAtOnce {
				add(next, both, k+1)
			}
		}
	}
	full := make([]uint64, len(reached))
	for i := range full {
		full[i] = ^uint64(0)
	}
	add(nil, full, 0)
	out := []Conditions{}
	for i := range sets { // a smaller set may have been found after a larger one
		if !slices.ContainsFunc(sets, func(f found) bool { return len(f.picks) < len(sets[i].picks) && contains(sets[i].picks, f.picks) }) {
			slices.SortFunc(sets[i].All, func(x, y Happening) int {
				return cmp.Or(x.Match.Compare(y.Match), cmp.Compare(x.RankingPoint, y.RankingPoint))
			})
			out = append(out, sets[i].Conditions)
		}
	}
	slices.SortStableFunc(out, func(x, y Conditions) int { return cmp.Compare(y.Chance, x.Chance) })
	return out[:min(len(out), mostSets)]
}

// contains reports whether all of part are in set.
func contains(set, part []int) bool {
	return !slices.ContainsFunc(part, func(c int) bool { return !slices.Contains(set, c) })
}

// grow divides a group of runs by the condition that explains most of the
// variance of reaching the goal (a classification tree, Gini's measure), while
// the two parts differ by more than luck.
func (o *Outlook) grow(in, reached []uint64, depth int) *Node {
	n, got := runsIn(in), runsInBoth(in, reached)
	out := &Node{Share: float64(n) / float64(o.Runs)}
	out.Chance, out.SE = share(got, n)
	if depth == treeDepth || got == 0 || got == n {
		return out
	}
	best, most := -1, mostUseless*out.Chance*(1-out.Chance)*float64(n)
	for c := range o.what {
		yes := runsInBoth(in, o.bits[c])
		if yes < rareRuns || n-yes < rareRuns {
			continue
		}
		hit := 0
		for k, w := range in {
			hit += bits.OnesCount64(w & o.bits[c][k] & reached[k])
		}
		p, a := share(hit, yes)
		q, b := share(got-hit, n-yes)
		between := float64(yes) * float64(n-yes) / float64(n) * (p - q) * (p - q)
		if between > most && math.Abs(p-q) > clear*math.Hypot(a, b) {
			best, most = c, between
		}
	}
	if best < 0 {
		return out
	}
	with, without := make([]uint64, len(in)), make([]uint64, len(in))
	for k, w := range in {
		with[k], without[k] = w&o.bits[best][k], w&^o.bits[best][k]
	}
	out.Asks = &o.what[best]
	out.Yes, out.No = o.grow(with, reached, depth+1), o.grow(without, reached, depth+1)
	return out
}

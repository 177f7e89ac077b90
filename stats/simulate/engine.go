package simulate

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/record"
)

// Engine draws matches. It is made once from an estimate and may be used from
// several goroutines, each with its own Run.
type Engine struct {
	fit    *contrib.Fit
	g      *game.Game
	scorer *game.Scorer
	acts   []act
	robots []robot
	seen   bool             // somebody watched: actions are drawn
	lower  func() []float64 // of all robots, see factor; made on first use: a forecast needs a few robots only
	parts  []part           // by component; used if nobody watched
	told   []bool           // by ranking point
	foul   int              // the one that stands for all; −1: the game has none

	foulMean, foulVar, restSD, partners float64
	// In playoffs everybody does 1 + λ as much; λ is drawn with each world.
	playoffs       bool
	shift, shiftSD float64
}

// act is an action as it is drawn.
type act struct {
	kind   drawn
	unit   int     // of the board; of the least option of a choice
	points float64 // of a flag, or of the least option
	value  float64 // of a counted unit, for_each bonuses shared out
	better []option
}

// option is one of a choice other than the least.
type option struct {
	unit   int
	points float64
}

type drawn uint8

const (
	choice   drawn = iota
	flag           // done or not
	counted        // units carry what is left of a robot's points
	worth0         // units worth nothing, which may count for a component
	together       // by the alliance
)

// robot is what is known of one robot beside θ.
type robot struct {
	exposure float64
	units    []float64   // by act: expected, or a flag's chance
	options  [][]float64 // by act: chances of the better options
}

// New prepares to simulate.
func New(fit *contrib.Fit) *Engine {
	g := fit.Game()
	e := &Engine{fit: fit, g: g, scorer: game.NewScorer(g), foul: -1, restSD: fit.RestSD(), partners: fit.Partners()}
	e.foulMean, e.foulVar = fit.Fouls()
	for k := range g.Actions {
		e.acts = append(e.acts, e.compile(k))
	}
	for k := range g.Fouls {
		if p := g.Fouls[k].OpponentPoints; p > 0 && (e.foul < 0 || p < g.Fouls[e.foul].OpponentPoints) {
			e.foul = k
		}
	}
	n := len(fit.Teams())
	e.seen = n > 0
	for i := range n {
		p, ok := fit.Profile(i)
		e.seen = e.seen && ok
		e.robots = append(e.robots, e.profile(i, &p))
	}
	if !e.seen {
		e.parts = parts(fit)
	}
	for i := range g.RankingPoints {
		e.told = append(e.told, e.tells(&g.RankingPoints[i].When))
	}
	e.lower = sync.OnceValue(func() []float64 {
		all := make([]int, n)
		for i := range all {
			all[i] = i
		}
		return factor(fit, all)
	})
	return e
}

// For is the engine that draws a match: in playoffs everybody plays harder, and
// defends more, by what the estimate has learned of it (contrib.Fit.Shift).
func (e *Engine) For(id record.MatchID) *Engine {
	if id.Playoffs() == e.playoffs {
		return e
	}
	other := *e
	other.playoffs, other.shift, other.shiftSD = id.Playoffs(), 0, 0
	if other.playoffs {
		other.shift, other.shiftSD = e.fit.Shift()
	}
	return &other
}

// harder draws 1 + λ; 1 and no random number outside of playoffs.
func (e *Engine) harder(rng *rand.Rand) float64 {
	if !e.playoffs {
		return 1
	}
	return max(0, 1+e.shift+e.shiftSD*rng.NormFloat64())
}

// compile makes an act of action k.
func (e *Engine) compile(k int) act {
	a := &e.g.Actions[k]
	x := act{unit: e.scorer.Unit(k, 0), points: a.Points, value: a.Points}
	for _, b := range e.g.Bonuses {
		if b.ForEach != nil && slices.Contains(b.ForEach.Count, a.ID) {
			x.value += b.Points / b.ForEach.Step
		}
	}
	switch {
	case a.ByAlliance():
		x.kind = together
	case a.Kind == game.Flag:
		x.kind = flag
	case a.Kind != game.Choice && x.value > 0:
		x.kind = counted
	case a.Kind != game.Choice:
		x.kind = worth0
	}
	if a.Kind == game.Choice {
		least := leastOption(a)
		x.unit, x.points = e.scorer.Unit(k, least), a.Options[least].Points
		for o := range a.Options {
			if o != least {
				x.better = append(x.better, option{e.scorer.Unit(k, o), a.Options[o].Points})
			}
		}
	}
	return x
}

// leastOption is the option that a robot ends with which does nothing about it.
func leastOption(a *game.Action) int {
	least := 0
	for o := range a.Options {
		if a.Options[o].Points < a.Options[least].Points {
			least = o
		}
	}
	return least
}

func (e *Engine) profile(i int, p *contrib.Profile) robot {
	r := robot{exposure: e.fit.Exposure(i), units: make([]float64, len(e.acts)), options: make([][]float64, len(e.acts))}
	if p.Units == nil {
		return r
	}
	copy(r.units, p.Units)
	for k, chances := range p.Options {
		a := &e.g.Actions[k]
		for o, c := range chances {
			if o != leastOption(a) {
				r.options[k] = append(r.options[k], c)
			}
		}
	}
	return r
}

// factor is the Cholesky factor of what is not known of some robots: its rows
// one after the other, of 1, 2, 3 … numbers.
func factor(fit *contrib.Fit, robots []int) []float64 {
	n := len(robots)
	cov := mat.NewSymDense(max(n, 1), nil)
	for i := range n {
		for j := i; j < n; j++ {
			cov.SetSym(i, j, fit.StrengthCov(robots[i], robots[j]))
		}
	}
	var chol mat.Cholesky
	var l mat.TriDense
	ok := chol.Factorize(cov)
	if ok {
		chol.LTo(&l)
	}
	var out []float64
	for i := range n {
		for j := 0; j <= i; j++ {
			switch {
			case ok:
				out = append(out, l.At(i, j))
			case i == j: // rounding took the last digit of a certain number
				out = append(out, math.Sqrt(math.Max(0, cov.At(i, i))))
			default:
				out = append(out, 0)
			}
		}
	}
	return out
}

// Details reports whether actions are drawn. If not, nobody watched anything,
// and components are drawn from what official results had of them.
func (e *Engine) Details() bool { return e.seen }

// Told reports, by Game.RankingPoints, whether a draw says anything about it: a
// ranking point that asks for what nobody saw is never gained.
func (e *Engine) Told() []bool { return slices.Clone(e.told) }

// Game is the game of the event.
func (e *Engine) Game() *game.Game { return e.g }

// World is one possible truth: θ of every robot in points, by index of Fit.Teams.
type World []float64

// World draws what is not known of the robots, see Run.DrawWorld.
func (e *Engine) World(rng *rand.Rand) World {
	w := make(World, len(e.robots))
	e.world(rng, make([]float64, len(w)), w)
	return w
}

// world fills w; z is scratch. rng gives one normal number a robot.
func (e *Engine) world(rng *rand.Rand, z []float64, w World) {
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	lower, at, hard := e.lower(), 0, e.harder(rng)
	for i := range w {
		w[i] = hard * (e.fit.Strength(i) + dot(lower[at:at+i+1], z))
		at += i + 1
	}
}

// dot is the sum of products of a with the beginning of b.
func dot(a, b []float64) float64 {
	var s0, s1, s2, s3 float64
	b = b[:len(a)]
	i := 0
	for ; i+4 <= len(a); i += 4 {
		s0 += a[i] * b[i]
		s1 += a[i+1] * b[i+1]
		s2 += a[i+2] * b[i+2]
		s3 += a[i+3] * b[i+3]
	}
	for ; i < len(a); i++ {
		s0 += a[i] * b[i]
	}
	return s0 + s1 + s2 + s3
}

// Expected is what an alliance is expected to score, points by fouls included,
// and the variance of its score, in closed form: before caps and limits, which
// only drawing tells of.
func (e *Engine) Expected(l *Lineup) (mean, variance float64) {
	mean = e.foulMean + e.fit.Rest(len(l.Robots))
	variance = e.foulVar + e.fit.MatchVariance(l.Robots...)
	for k, i := range l.Robots {
		a := l.expected(e, k)
		mean += a * e.fit.Mean(i)
		for m, j := range l.Robots {
			variance += a * l.expected(e, m) * e.fit.Cov(i, j)
		}
	}
	return mean, variance
}

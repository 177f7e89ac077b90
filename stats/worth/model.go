package worth

import (
	"math"
	"math/rand/v2"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// tapes is how many drawn matches of a robot are kept to learn what caps take.
const tapes = 256

// model is what the alliances' scores go by. It does not change after newModel.
type model struct {
	fit      *contrib.Fit
	g        *game.Game
	engine   *simulate.Engine
	n        int
	size     int               // robots that play
	mean     []float64         // expected points of each robot in its next match
	profiles []contrib.Profile // by robot; empty: nobody watched

	rounding []float64 // variance that whole units add to each robot's points

	scorer *game.Scorer
	width  int
	rows   [][]float64 // by robot: units of each tape, one after the other
	points [][]float64 // by robot and tape: points without caps
	capped []capped
}

// capped is a set of units that an alliance is credited with up to a limit.
type capped struct {
	units []int
	max   float64
}

// playoffMatch stands for all matches that are looked ahead to.
var playoffMatch = record.MatchID{Stage: record.PlayoffStage, Number: 1}

func newModel(fit *contrib.Fit, seed uint64) *model {
	m := &model{fit: fit, g: fit.Game(), engine: simulate.New(fit).For(playoffMatch), n: len(fit.Teams()), size: fit.Game().Alliance.Robots}
	m.scorer = game.NewScorer(m.g)
	for i := range m.n {
		m.mean = append(m.mean, fit.Strength(i)*fit.Exposure(i))
	}
	m.rounding = make([]float64, m.n)
	if m.engine.Details() {
		for i := range m.n {
			p, _ := fit.Profile(i)
			m.profiles = append(m.profiles, p)
			for k, units := range p.Units {
				if a := &m.g.Actions[k]; a.Kind == game.Count || a.Kind == game.Volume {
					// A whole number around x has variance f(1−f), f the fraction of x: 1/6 on average.
					m.rounding[i] += a.Points * a.Points * min(1.0/6, units)
				}
			}
		}
		m.findCaps()
		if len(m.capped) > 0 {
			m.record(seed)
		}
	}
	return m
}

// findCaps lists what an alliance can do too much of.
func (m *model) findCaps() {
	for k := range m.g.Actions {
		a := &m.g.Actions[k]
		if a.ByAlliance() {
			continue
		}
		if a.AllianceMax != nil {
			m.capped = append(m.capped, capped{[]int{m.scorer.Unit(k, 0)}, *a.AllianceMax})
		}
		for j := range a.Options {
			if o := &a.Options[j]; o.AllianceMax != nil {
				m.capped = append(m.capped, capped{[]int{m.scorer.Unit(k, j)}, *o.AllianceMax})
			}
		}
	}
	for _, l := range m.g.Limits {
		c := capped{max: l.Max}
		for _, id := range l.Count {
			if k := m.scorer.ActionIndex(id); k >= 0 {
				c.units = append(c.units, m.scorer.Unit(k, 0))
			}
		}
		m.capped = append(m.capped, c)
	}
}

// record draws matches of all robots in the expected world and keeps what each
// did. Partners are drawn anew for every tape.
func (m *model) record(seed uint64) {
	rng := rand.New(rand.NewPCG(seed, math.MaxUint64))
	run := m.engine.NewRun(rng)
	for i := range m.n {
		run.World[i] = m.fit.Strength(i)
	}
	m.rows, m.points = make([][]float64, m.n), make([][]float64, m.n)
	order := make([]int, m.n)
	for i := range order {
		order[i] = i
	}
	for range tapes {
		rng.Shuffle(m.n, func(i, j int) { order[i], order[j] = order[j], order[i] })
		for group := range slices.Chunk(order, m.size) {
			// Against one robot: what it does is not looked at.
			run.Play(&simulate.Lineup{Robots: group}, &simulate.Lineup{Robots: group[:1]})
			did := run.Did(0)
			for k, i := range group {
				row := did.Robot(k)
				m.width = len(row)
				m.rows[i] = append(m.rows[i], row...)
				m.points[i] = append(m.points[i], m.worthOf(row))
			}
		}
	}
}

// worthOf is what units are worth without caps and limits.
func (m *model) worthOf(row []float64) float64 {
	sum := 0.0
	for k := range m.g.Actions {
		a := &m.g.Actions[k]
		if a.Kind != game.Choice {
			sum += a.Points * row[m.scorer.Unit(k, 0)]
			continue
		}
		for j := range a.Options {
			sum += a.Options[j].Points * row[m.scorer.Unit(k, j)]
		}
	}
	return sum
}

// effect is what caps and limits do to the score of an alliance.
type effect struct {
	loss     float64 // points, expected
	slope    float64 // of the loss, for each point that the robots make more
	variance float64 // added to that of the sum of its robots; mostly below 0
	third    float64 // and to the third central moment: scores that reach a cap lean to the left
}

// caps works out effects and keeps them. For one goroutine.
type caps struct {
	m     *model
	board *game.Board
	known map[uint64]effect
	lost  [tapes]float64 // to caps, of the robots that sums was asked about
}

func (m *model) newCaps() *caps {
	return &caps{m: m, board: m.scorer.NewBoard(), known: map[uint64]effect{}}
}

// of is the effect on robots that play together; up to four of them in any order.
func (c *caps) of(robots []int) effect {
	m := c.m
	if len(m.capped) == 0 || len(robots) < 1 || len(robots) > 4 {
		return effect{}
	}
	var sorted [4]int
	s := sorted[:copy(sorted[:], robots)]
	slices.Sort(s)
	key := uint64(0)
	for _, i := range s {
		key = key<<16 | uint64(i+1)
	}
	e, known := c.known[key]
	if !known {
		e = c.work(s)
		c.known[key] = e
	}
	return e
}

func (c *caps) work(robots []int) effect {
	all := c.sums(robots)
	e := effect{loss: all.loss, variance: all.square - all.loss*all.loss - 2*(all.cross-all.loss*all.points), third: c.leans(robots, &all)}
	// A better form lets a robot do more of everything that can be counted, and
	// so does a better robot: what luck does to the loss, strength does too.
	if v := all.squares - all.points*all.points; v > 0 {
		e.slope = min(max((all.cross-all.loss*all.points)/v, 0), 1)
		// The luck of the tapes is known; what it did to the loss is taken off again.
		expected := 0.0
		for _, i := range robots {
			expected += c.m.mean[i]
		}
		e.loss += e.slope * (expected - all.points)
	}
	return e
}

// sums are means over tapes: of the loss, its square, the points without caps,
// their square, and the product.
type sums struct{ loss, square, points, squares, cross float64 }

// leans is by how much the third central moment with caps differs from that
// without, on the tapes that sums has gone through last.
func (c *caps) leans(robots []int, all *sums) (out float64) {
	for t := range tapes {
		points := -all.points
		for _, i := range robots {
			points += c.m.points[i][t]
		}
		left := points - (c.lost[t] - all.loss)
		out += (left*left*left - points*points*points) / tapes
	}
	return out
}

func (c *caps) sums(robots []int) (out sums) {
	const each = 1.0 / tapes
	clear(c.lost[:])
	for t := range tapes {
		points := 0.0
		for _, i := range robots {
			points += c.m.points[i][t]
		}
		out.points += points * each
		out.squares += points * points * each
		if !c.over(robots, t) {
			continue
		}
		l := max(points-c.counted(robots, t), 0)
		c.lost[t] = l
		out.loss += l * each
		out.square += l * l * each
		out.cross += l * points * each
	}
	return out
}

// over reports whether the robots do too much of anything on tape t.
func (c *caps) over(robots []int, t int) bool {
	m := c.m
	for _, x := range m.capped {
		n := 0.0
		for _, i := range robots {
			row := m.rows[i][t*m.width:]
			for _, u := range x.units {
				n += row[u]
			}
		}
		if n > x.max {
			return true
		}
	}
	return false
}

// counted is what the robots are credited with on tape t.
func (c *caps) counted(robots []int, t int) float64 {
	m := c.m
	c.board.Did[0].Reset(len(robots))
	c.board.Did[1].Reset(0)
	for k, i := range robots {
		copy(c.board.Did[0].Robot(k), m.rows[i][t*m.width:(t+1)*m.width])
	}
	c.board.Credit()
	sum := 0.0
	for k := range m.g.Actions {
		sum += m.credited(c.board.Got[0].Credited, k)
	}
	return sum
}

// credited is what an action brought an alliance.
func (m *model) credited(units []float64, k int) float64 {
	a := &m.g.Actions[k]
	if a.Kind != game.Choice {
		return a.Points * units[m.scorer.Unit(k, 0)]
	}
	sum := 0.0
	for j := range a.Options {
		sum += a.Options[j].Points * units[m.scorer.Unit(k, j)]
	}
	return sum
}

// moments of a robot's points in a match of one world.
type moments struct {
	mean, luck, share, third float64 // luck and share are parts of the variance
	fourth                   float64 // cumulant
	sd                       float64 // of the luck
}

// Gauss-Legendre on (0, 1) with three nodes: the share of a match that a robot
// has which something stops is uniform (package simulate).
var (
	nodes   = [3]float64{0.5 - 0.3872983346207417, 0.5, 0.5 + 0.3872983346207417}
	weights = [3]float64{5.0 / 18, 8.0 / 18, 5.0 / 18}
)

// robot gives the moments of robot i whose θ is strength.
func (m *model) robot(i int, strength float64) moments {
	strength = math.Max(0, strength)
	stops := min(1, max(0, 2*(1-m.fit.Exposure(i))))
	var out moments
	out.mean = strength * (1 - stops/2)
	add := func(weight, w float64) {
		mean, v := w*strength, m.fit.LuckVar(strength, w)
		d := mean - out.mean
		out.luck += weight * v
		out.share += weight * d * d
		out.third += weight * (3*v*d + d*d*d)
		out.fourth += weight * (3*v*v + 6*v*d*d + d*d*d*d)
		if mean > 0 { // of a gamma law
			third := 2 * v * v / mean
			out.third += weight * third
			out.fourth += weight * (6*v*v*v/(mean*mean) + 4*third*d)
		}
	}
	add(1-stops, 1)
	if stops > 0 {
		for k, w := range nodes {
			add(stops*weights[k], w)
		}
	}
	out.fourth -= 3 * (out.luck + out.share) * (out.luck + out.share)
	out.sd = math.Sqrt(out.luck)
	out.share += m.rounding[i]
	return out
}

// side is an alliance's score in one world, fouls left out.
type side struct{ mean, variance, third, fourth float64 }

// alliance adds up the robots that play.
func (m *model) alliance(robots []int, world []moments, e effect) side {
	out := side{mean: m.fit.Rest(len(robots)), variance: m.fit.RestSD() * m.fit.RestSD()}
	var sum, own, more float64
	for _, i := range robots {
		r := &world[i]
		out.mean += r.mean
		more += r.mean - m.mean[i]
		out.variance += r.luck + r.share
		out.third += r.third
		out.fourth += r.fourth
		sum += r.sd
		own += r.luck
	}
	out.mean -= max(0, e.loss+e.slope*more)
	out.third += e.third
	out.variance += m.fit.Partners() * (sum*sum - own)
	out.variance = max(out.variance+e.variance, 0.25*out.variance)
	return out
}

// wins is the chance that a beats b, a tie being played again: Edgeworth's series
// to the fourth cumulant (Abramowitz and Stegun 1964, 26.2.48, from memory).
func wins(a, b side, fouls float64) float64 {
	variance := a.variance + b.variance + 2*fouls + 1e-9
	sd := math.Sqrt(variance)
	z := (a.mean - b.mean) / sd
	skew := (a.third - b.third) / (sd * variance)
	excess := min(max((a.fourth+b.fourth)/(variance*variance), -1), 1)
	zz := z * z
	more := skew/6*(zz-1) - excess/24*z*(zz-3) - skew*skew/72*z*(zz*zz-10*zz+15)
	p := 0.5*math.Erfc(-z/math.Sqrt2) + more*math.Exp(-zz/2)/math.Sqrt(2*math.Pi)
	return min(max(p, 1e-6), 1-1e-6)
}

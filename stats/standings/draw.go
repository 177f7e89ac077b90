package standings

import (
	"cmp"
	"math/rand/v2"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// maxRankingPoints is how many ranking points of a game a line can hold.
const maxRankingPoints = 64

// line is what one alliance got in a drawn match.
type line struct {
	score  float64
	gained uint64    // ranking points by index in the game
	parts  []float64 // by step; those of points and score are not used
}

func (l *line) has(k int) bool { return l.gained>>k&1 == 1 }

// drawer plays the matches to come. Lines 2m and 2m+1 are red and blue of the
// m-th match. It belongs to one goroutine.
type drawer interface {
	draw(lines []line)
}

// source makes a drawer that takes its random numbers from rng.
type source func(rng *rand.Rand) drawer

// simulated draws from the joint simulator.
type simulated struct {
	*plan
	rng *rand.Rand
	run *simulate.Run
}

// plan is what all drawers of an event share.
type plan struct {
	b       *board
	lineups [][2]simulate.Lineup // by match
	details bool
	told    []bool // by ranking point
	lends   bool   // something is taken from donors
	parts   []int  // component by step; −1: none
	donors  []donor
}

// donor is what a played alliance got beside its score. What the simulator
// cannot tell (all but the outcome where nobody watched, else what asks for
// something that an alliance does as a whole), a drawn alliance gets as one of
// those with nearly the same score did: a nearest-neighbour hot deck.
type donor struct {
	own    float64
	gained uint64
	parts  []float64
}

func newPlan(b *board, engine *simulate.Engine) *plan {
	p := &plan{b: b, details: engine.Details(), told: engine.Told()}
	for m := range b.rest {
		s := &b.rest[m].sides
		p.lineups = append(p.lineups, [2]simulate.Lineup{{Robots: s[0].plays}, {Robots: s[1].plays}})
	}
	for _, step := range b.steps {
		p.parts = append(p.parts, slices.IndexFunc(b.g.Components, func(c game.Component) bool { return c.ID == step }))
	}
	p.lends = !p.details || slices.Contains(p.told, false)
	for _, m := range b.played {
		for _, c := range []record.Colour{record.Red, record.Blue} {
			r := m.Side(c).Result
			d := donor{own: r.Own(), gained: b.gained(m, c), parts: make([]float64, len(b.steps))}
			for i, step := range b.steps {
				d.parts[i] = r.Components[step]
			}
			p.donors = append(p.donors, d)
		}
	}
	slices.SortStableFunc(p.donors, func(x, y donor) int { return cmp.Compare(x.own, y.own) })
	return p
}

// gained are the ranking points of one side of a played match. Of those whose
// condition cannot be seen, as many are taken for gained as the published sum
// has room for.
func (b *board) gained(m *record.Match, c record.Colour) (bits uint64) {
	left := 0.0
	if p := m.Side(c).Result.RankingPoints; p != nil {
		left = *p
	}
	var unseen []int
	for k := range b.g.RankingPoints {
		p := &b.g.RankingPoints[k]
		switch got, known := m.Gained(b.g, &p.When, c); {
		case !known:
			unseen = append(unseen, k)
		case got:
			bits = set(bits, k, true)
			left -= p.Points
		}
	}
	for _, k := range unseen {
		if p := b.g.RankingPoints[k].Points; left >= p-1e-9 && p > 0 {
			bits = set(bits, k, true)
			left -= p
		}
	}
	return bits
}

func (s *simulated) draw(lines []line) {
	s.run.DrawWorld()
	for m := range s.lineups {
		got := s.run.Play(&s.lineups[m][0], &s.lineups[m][1])
		s.fill(&got.Sides[0], &lines[2*m])
		s.fill(&got.Sides[1], &lines[2*m+1])
		settle(s.b.g, &lines[2*m], &lines[2*m+1])
	}
}

func (s *simulated) fill(from *simulate.Side, to *line) {
	to.score, to.gained = from.Points, 0
	for k, got := range from.RankingPoints {
		to.gained = set(to.gained, k, got)
	}
	for i, c := range s.parts {
		if c >= 0 && s.details {
			to.parts[i] = from.Components[c]
		}
	}
	if s.lends {
		s.lend(from.Points-from.FromFouls, to)
	}
}

// neighbours is among how many alliances of nearly the same score one is drawn.
const neighbours = 10

func (s *simulated) lend(own float64, to *line) {
	n := len(s.donors)
	if n == 0 {
		return
	}
	at, _ := slices.BinarySearchFunc(s.donors, own, func(d donor, own float64) int { return cmp.Compare(d.own, own) })
	width := min(neighbours, n)
	from := min(max(at-width/2, 0), n-width)
	d := &s.donors[from+s.rng.IntN(width)]
	for k, told := range s.told {
		if !told {
			to.gained = set(to.gained, k, d.gained>>k&1 == 1)
		}
	}
	if !s.details {
		copy(to.parts, d.parts)
	}
}

// settle gives the ranking points for the outcome.
func settle(g *game.Game, red, blue *line) {
	for k := range g.RankingPoints {
		var one, two bool
		switch g.RankingPoints[k].When.Outcome {
		case "win":
			one, two = red.score > blue.score, blue.score > red.score
		case "tie":
			one = red.score == blue.score
			two = one
		default:
			continue
		}
		red.gained, blue.gained = set(red.gained, k, one), set(blue.gained, k, two)
	}
}

func set(bits uint64, k int, on bool) uint64 {
	if on {
		return bits | 1<<k
	}
	return bits &^ (1 << k)
}

// simulatedFrom is the source that draws from an estimate.
func simulatedFrom(b *board, fit *contrib.Fit) source {
	engine := simulate.New(fit)
	p := newPlan(b, engine)
	return func(rng *rand.Rand) drawer { return &simulated{plan: p, rng: rng, run: engine.NewRun(rng)} }
}

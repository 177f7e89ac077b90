package bracket

import (
	"errors"
	"slices"
)

// ErrLarge says that a playoff has too many courses to go through: use Walk
// with random games. Only round robins of many alliances are so large.
var ErrLarge = errors.New("this playoff has too many courses to go through all of them")

// maxStates caps the states after a series.
const maxStates = 1 << 14

// Plan goes through all courses of a playoff at once: series by series it moves
// chances between states, a state being what later series depend on. It does
// not change and may be used by several goroutines.
type Plan struct {
	Format *Format
	Places []Place
	steps  []step
	table  [][]int // by state after the table: alliances by place; nil: no table
	most   int     // states
	only   int     // the alliance that is asked about; none: all
}

// step is one series.
type step struct {
	wins   int
	round  int
	out    int // index in Places of the loser; −1: goes on
	first  int // index in Places of the winner; −1: not the final
	states int // before it
	edges  []edge
}

// edge is what a series does from one state.
type edge struct {
	from, red, blue   int32 // state, alliances; none: bye
	toRed, toBlue     int32 // states when red or blue wins; −1: cannot
	redWins, blueWins int8  // games won already
}

// NewPlan prepares. Standings, by series, may be nil: nothing was played.
func NewPlan(f *Format, standings []*Standing) (*Plan, error) {
	return newPlan(f, standings, none)
}

// NewPlanFor is NewPlan for the places of one alliance, from 0: it does not
// look further where that one is out. Run gives its row of places and no rounds.
func NewPlanFor(f *Format, standings []*Standing, alliance int) (*Plan, error) {
	return newPlan(f, standings, alliance)
}

func newPlan(f *Format, standings []*Standing, only int) (*Plan, error) {
	p := &Plan{Format: f, Places: f.Places(), most: 1, only: only}
	rounds := f.Rounds()
	states := []*course{newCourse(f)}
	for i := range f.Series {
		s := &f.Series[i]
		st := step{wins: s.Wins, round: slices.Index(rounds, s.Round), out: -1, first: -1, states: len(states)}
		if s.Out.First > 0 {
			st.out = slices.Index(p.Places, s.Out)
		}
		if s.Final {
			st.first = 0
		}
		index := map[string]int32{}
		var next []*course
		reach := func(c *course, red, blue int, redWins bool) int32 {
			n := &course{f: f, winner: slices.Clone(c.winner), loser: slices.Clone(c.loser), wins: slices.Clone(c.wins), table: c.table}
			n.end(i, red, blue, redWins)
			if s.Out.First > 0 && only != none && n.loser[i] == only {
				return -1
			}
			key := n.key(i + 1)
			at, known := index[key]
			if !known {
				at = int32(len(next))
				index[key] = at
				next = append(next, n)
			}
			return at
		}
		for k, c := range states {
			red, blue := c.pair(i)
			if f.Table > 0 && i == f.Table {
				p.table = append(p.table, c.table)
			}
			e := edge{from: int32(k), red: int32(red), blue: int32(blue), toRed: -1, toBlue: -1}
			if standings != nil && standings[i] != nil && standings[i].Red == red && standings[i].Blue == blue {
				e.redWins, e.blueWins = int8(standings[i].RedWins), int8(standings[i].BlueWins)
			}
			if blue == none || red != none && int(e.blueWins) < s.Wins {
				e.toRed = reach(c, red, blue, true)
			}
			if red == none && blue != none || red != none && blue != none && int(e.redWins) < s.Wins {
				e.toBlue = reach(c, red, blue, false)
			}
			st.edges = append(st.edges, e)
		}
		if len(next) > maxStates {
			return nil, ErrLarge
		}
		p.most = max(p.most, len(next))
		p.steps = append(p.steps, st)
		states = next
	}
	return p, nil
}

// key is what series from i on depend on.
func (c *course) key(i int) string {
	var out []byte
	for n := range i {
		w, l := byte(0), byte(0)
		for _, s := range c.f.Series[i:] {
			for _, from := range []Source{s.Red, s.Blue} {
				if from.N == n+1 && from.Kind == 'W' {
					w = byte(c.winner[n] + 2)
				}
				if from.N == n+1 && from.Kind == 'L' {
					l = byte(c.loser[n] + 2)
				}
			}
		}
		out = append(out, w, l)
	}
	if i <= c.f.Table {
		for _, w := range c.wins {
			out = append(out, byte(w))
		}
	}
	return string(out)
}

// Chances are what a Plan tells.
type Chances struct {
	Place [][]float64 // by alliance and index in Plan.Places
	Round [][]float64 // by alliance and index in Format.Rounds: to play in it
	state [2][]float64
	long  [][]float64 // chances of a series by wins that it takes, see Run
}

// Chances makes room for the answers of Run, which may be used again and again.
func (p *Plan) Chances() *Chances {
	n := p.Format.Alliances
	c := &Chances{Place: make([][]float64, n), Round: make([][]float64, n)}
	for a := range n {
		c.Place[a], c.Round[a] = make([]float64, len(p.Places)), make([]float64, len(p.Format.Rounds()))
	}
	c.state[0], c.state[1] = make([]float64, p.most), make([]float64, p.most)
	c.long = make([][]float64, 10)
	for k := range c.long {
		c.long[k] = make([]float64, n*n)
	}
	return c
}

// Run tells the chances. Game[a*n+b] is the chance that alliance a wins a game
// against b, replays included; of each pair game[a*n+b] + game[b*n+a] = 1. The
// answer is exact but for rounding. It is written into out and stays there until
// the next call.
func (p *Plan) Run(game []float64, out *Chances) {
	n := p.Format.Alliances
	for a := range n {
		clear(out.Place[a])
		clear(out.Round[a])
	}
	var known [10]bool
	now, next := out.state[0], out.state[1]
	now[0] = 1
	for i := range p.steps {
		s := &p.steps[i]
		whole := game
		if s.wins > 1 {
			whole = out.long[s.wins]
			if !known[s.wins] {
				known[s.wins] = true
				for k, q := range game {
					whole[k] = SeriesChance(q, s.wins, 0, 0)
				}
			}
		}
		clear(next)
		for k := range s.edges {
			e := &s.edges[k]
			chance := now[e.from]
			switch {
			case chance == 0:
			case e.red == none || e.blue == none:
				if e.toRed >= 0 {
					next[e.toRed] += chance
				} else {
					next[e.toBlue] += chance
				}
				if s.first == 0 {
					out.Place[max(e.red, e.blue)][0] += chance
				}
			default:
				red := whole[int(e.red)*n+int(e.blue)]
				if e.redWins > 0 || e.blueWins > 0 {
					red = SeriesChance(game[int(e.red)*n+int(e.blue)], s.wins, int(e.redWins), int(e.blueWins))
				}
				red *= chance
				blue := chance - red
				if e.toRed >= 0 {
					next[e.toRed] += red
				}
				if e.toBlue >= 0 {
					next[e.toBlue] += blue
				}
				if p.only != none && int(e.red) != p.only && int(e.blue) != p.only {
					break
				}
				out.Round[e.red][s.round] += chance
				out.Round[e.blue][s.round] += chance
				if s.out >= 0 {
					out.Place[e.blue][s.out] += red
					out.Place[e.red][s.out] += blue
				}
				if s.first == 0 {
					out.Place[e.red][0] += red
					out.Place[e.blue][0] += blue
				}
			}
			if p.table != nil && i == p.Format.Table {
				for place, a := range p.table[e.from][2:] {
					out.Place[a][place+2] += chance
				}
			}
		}
		now, next = next, now
	}
}

// SeriesChance is the chance to win a series that takes so many wins, of which
// own and other are there already, with chance q in each game.
func SeriesChance(q float64, wins, own, other int) float64 {
	switch {
	case own >= wins:
		return 1
	case other >= wins:
		return 0
	}
	a, b := wins-own, wins-other
	// The other side has won k < b games when the a-th win comes.
	sum, term := 0.0, 1.0
	for k := range b {
		if k > 0 {
			term *= (1 - q) * float64(a-1+k) / float64(k)
		}
		sum += term
	}
	for range a {
		sum *= q
	}
	return sum
}

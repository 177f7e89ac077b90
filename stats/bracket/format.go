package bracket

import (
	"fmt"
	"strconv"

	"sextant/stats/game"
)

// Source says where an alliance of a series comes from.
type Source struct {
	Kind byte // A: seed N; W, L: winner, loser of series N; T: place N of the table of a round robin
	N    int  // from 1
}

// String writes "W7".
func (s Source) String() string { return string(s.Kind) + strconv.Itoa(s.N) }

// Series is one meeting of two alliances: a match, or as many as it takes until
// one of them has won Wins games.
type Series struct {
	Round     string // name of the round, such as "upper 2"
	Red, Blue Source
	Wins      int
	Final     bool
	// Out is the place at which the loser ends; the zero Place: it goes on.
	Out Place
}

// Place is where an alliance ends; several may share places First to Last.
type Place struct{ First, Last int }

// String writes "3" or "5-6".
func (p Place) String() string {
	if p.First == p.Last {
		return strconv.Itoa(p.First)
	}
	return fmt.Sprintf("%d-%d", p.First, p.Last)
}

// Format is a playoff. Series stand in the order in which they are played; the
// last one is the final, whose winner is first.
type Format struct {
	Name      string
	Alliances int // that take part; seeds above it are byes
	Series    []Series
	// Table is how many series, from the first, make the table of a round robin.
	Table int
}

// row is a series as it stands in the tables below.
type row struct {
	round, red, blue string
	out              Place
}

// doubleElimination8 is common practice, no source: the upper bracket's losers
// drop into the lower one, a second loss ends it, and the final has no
// advantage for either side.
var doubleElimination8 = []row{
	{"upper 1", "A1", "A8", Place{}}, {"upper 1", "A4", "A5", Place{}}, {"upper 1", "A2", "A7", Place{}}, {"upper 1", "A3", "A6", Place{}},
	{"lower 2", "L1", "L2", Place{7, 8}}, {"lower 2", "L3", "L4", Place{7, 8}},
	{"upper 2", "W1", "W2", Place{}}, {"upper 2", "W3", "W4", Place{}},
	{"lower 3", "L7", "W6", Place{5, 6}}, {"lower 3", "L8", "W5", Place{5, 6}},
	{"upper 4", "W7", "W8", Place{}}, {"lower 4", "W10", "W9", Place{4, 4}}, {"lower 5", "L11", "W12", Place{3, 3}},
	{"final", "W11", "W13", Place{2, 2}},
}

// Single elimination, common practice, no source: the best meets the worst, and
// the two best seeds can meet only in the final.
var (
	singleElimination8 = []row{
		{"quarter-final", "A1", "A8", Place{5, 8}}, {"quarter-final", "A4", "A5", Place{5, 8}},
		{"quarter-final", "A2", "A7", Place{5, 8}}, {"quarter-final", "A3", "A6", Place{5, 8}},
		{"semi-final", "W1", "W2", Place{3, 4}}, {"semi-final", "W3", "W4", Place{3, 4}}, {"final", "W5", "W6", Place{2, 2}},
	}
	singleElimination4 = []row{
		{"semi-final", "A1", "A4", Place{3, 4}}, {"semi-final", "A2", "A3", Place{3, 4}}, {"final", "W1", "W2", Place{2, 2}},
	}
	singleElimination2 = []row{{"final", "A1", "A2", Place{2, 2}}}
)

// FormatOf is the format that a game names, for a number of alliances. Without
// a playoff it is the smallest single elimination that holds them. Errors: a
// name that is not known, more alliances than it has room for, fewer than two.
func FormatOf(p *game.Playoff, alliances int) (*Format, error) {
	if p == nil {
		p = &game.Playoff{Format: "single_elimination_8"}
		switch {
		case alliances <= 2:
			p.Format = "single_elimination_2"
		case alliances <= 4:
			p.Format = "single_elimination_4"
		}
	}
	f := &Format{Name: p.Format, Alliances: alliances}
	final := p.FinalWins
	if final == 0 {
		final = 2
	}
	size := 0
	switch p.Format {
	case "double_elimination_8":
		size = 8
		f.Series = series(doubleElimination8, 1, final)
	case "single_elimination_8":
		size = 8
		f.Series = series(singleElimination8, 2, final)
	case "single_elimination_4":
		size = 4
		f.Series = series(singleElimination4, 2, final)
	case "single_elimination_2":
		size = 2
		f.Series = series(singleElimination2, 2, final)
	case "round_robin":
		size = alliances
		f.Series = roundRobin(alliances, final)
		f.Table = len(f.Series) - 1
	default:
		return nil, fmt.Errorf("%q is no playoff format that this program knows", p.Format)
	}
	if alliances < 2 || alliances > size {
		return nil, fmt.Errorf("%s is for 2 to %d alliances, and there are %d", p.Format, size, alliances)
	}
	return f, nil
}

func series(rows []row, wins, final int) []Series {
	var out []Series
	for i, r := range rows {
		s := Series{Round: r.round, Red: source(r.red), Blue: source(r.blue), Wins: wins, Out: r.out}
		if i == len(rows)-1 {
			s.Final, s.Wins = true, final
		}
		out = append(out, s)
	}
	return out
}

func source(text string) Source {
	n, err := strconv.Atoi(text[1:])
	if err != nil {
		panic("a source of a format in code: " + text)
	}
	return Source{Kind: text[0], N: n}
}

// roundRobin lets everybody meet everybody once, in the order of the circle
// method; the two best of the table (wins, then seed) play the final.
func roundRobin(n, final int) []Series {
	var out []Series
	ring := make([]int, n+n%2) // 0 is the bye of an odd number
	for i := range n {
		ring[i] = i + 1
	}
	for round := range len(ring) - 1 {
		for k := range len(ring) / 2 {
			a, b := ring[k], ring[len(ring)-1-k]
			if a == 0 || b == 0 {
				continue
			}
			out = append(out, Series{Round: fmt.Sprintf("round %d", round+1), Red: Source{'A', min(a, b)}, Blue: Source{'A', max(a, b)}, Wins: 1})
		}
		last := ring[len(ring)-1]
		copy(ring[2:], ring[1:len(ring)-1])
		ring[1] = last
	}
	return append(out, Series{Round: "final", Red: Source{'T', 1}, Blue: Source{'T', 2}, Wins: final, Final: true, Out: Place{2, 2}})
}

// Places are all places at which an alliance can end, best first.
func (f *Format) Places() []Place {
	out := []Place{{1, 1}, {2, 2}}
	if f.Table > 0 {
		for k := 3; k <= f.Alliances; k++ {
			out = append(out, Place{k, k})
		}
		return out
	}
	for i := len(f.Series) - 1; i >= 0; i-- {
		if p := f.Series[i].Out; p.First > out[len(out)-1].First {
			out = append(out, p)
		}
	}
	return out
}

// Rounds are the names of the rounds in the order in which they begin.
func (f *Format) Rounds() []string {
	var out []string
	seen := map[string]bool{}
	for _, s := range f.Series {
		if !seen[s.Round] {
			seen[s.Round] = true
			out = append(out, s.Round)
		}
	}
	return out
}

package bracket

import (
	"cmp"
	"slices"
)

// none is the alliance of a seed that nobody has: a bye.
const none = -1

// Standing is what results have decided of a series: the games that each of
// the two alliances has won. Alliances are numbered from 0.
type Standing struct {
	Red, Blue         int
	RedWins, BlueWins int
}

// course is a way through a playoff as far as it is known.
type course struct {
	f             *Format
	winner, loser []int // by series
	wins          []int // in the table, by alliance
	table         []int // alliances by place of the table; nil: not known yet
}

func newCourse(f *Format) *course {
	c := &course{f: f, winner: make([]int, len(f.Series)), loser: make([]int, len(f.Series))}
	if f.Table > 0 {
		c.wins = make([]int, f.Alliances)
	}
	return c
}

// from is the alliance of a source; its series is over.
func (c *course) from(s Source) int {
	switch s.Kind {
	case 'W':
		return c.winner[s.N-1]
	case 'L':
		return c.loser[s.N-1]
	case 'T':
		return c.table[s.N-1]
	}
	if s.N > c.f.Alliances {
		return none
	}
	return s.N - 1
}

// pair is who meets in series i, all series before it being over.
func (c *course) pair(i int) (red, blue int) {
	if c.f.Table > 0 && i == c.f.Table {
		c.table = tableOf(c.wins)
	}
	return c.from(c.f.Series[i].Red), c.from(c.f.Series[i].Blue)
}

// end notes the winner of series i.
func (c *course) end(i, red, blue int, redWins bool) {
	c.winner[i], c.loser[i] = red, blue
	if !redWins {
		c.winner[i], c.loser[i] = blue, red
	}
	if i < c.f.Table {
		c.wins[c.winner[i]]++
	}
}

// tableOf ranks alliances by wins, equal ones by seed.
func tableOf(wins []int) []int {
	out := make([]int, len(wins))
	for a := range out {
		out[a] = a
	}
	slices.SortStableFunc(out, func(a, b int) int { return cmp.Compare(wins[b], wins[a]) })
	return out
}

// Walk follows one course of a playoff. Game plays a game of a series and
// reports whether red wins it; standings, by series, may be nil and are what is
// decided already. Met, if not nil, is told of each series that is played. The
// answer is the index in Places of each alliance's place.
func Walk(f *Format, standings []*Standing, game func(series, red, blue int) bool, met func(series, red, blue int)) []int {
	c := newCourse(f)
	places := f.Places()
	out := make([]int, f.Alliances)
	for i := range f.Series {
		s := &f.Series[i]
		red, blue := c.pair(i)
		redWins := red != none
		if red != none && blue != none {
			var won Standing
			if standings != nil && standings[i] != nil {
				won = *standings[i]
			}
			if met != nil {
				met(i, red, blue)
			}
			for won.RedWins < s.Wins && won.BlueWins < s.Wins {
				if game(i, red, blue) {
					won.RedWins++
				} else {
					won.BlueWins++
				}
			}
			redWins = won.RedWins >= s.Wins
		}
		c.end(i, red, blue, redWins)
		if s.Out.First > 0 && c.loser[i] != none {
			out[c.loser[i]] = slices.Index(places, s.Out)
		}
	}
	out[c.winner[len(f.Series)-1]] = 0
	if f.Table > 0 {
		for k, a := range c.table[2:] {
			out[a] = k + 2
		}
	}
	return out
}

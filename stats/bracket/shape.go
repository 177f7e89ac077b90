package bracket

import (
	"slices"

	"sextant/stats/record"
)

// shape is the bracket as it is drawn: every series, where its alliances come
// from, who they are as far as results tell, and where it leads to.
func shape(f *Format, matches []record.Match, alliances [][]record.TeamID, standings []*Standing, games [][]record.BracketGame) []record.BracketSeries {
	out := make([]record.BracketSeries, len(f.Series))
	open := map[int]Standing{}
	for _, o := range Open(f, standings) {
		open[o.Series] = o.Standing
	}
	c := newCourse(f)
	over := make([]bool, len(f.Series))
	for i, s := range f.Series {
		b := record.BracketSeries{
			Series: i + 1, Round: s.Round, Final: s.Final, Wins: s.Wins, Games: games[i],
			Red: record.BracketSide{From: s.Red.String()}, Blue: record.BracketSide{From: s.Blue.String()},
		}
		if b.Games == nil {
			b.Games = []record.BracketGame{}
		}
		if s.Out.First > 0 {
			b.Out = s.Out.String()
		}
		st, due := open[i]
		switch {
		case due:
			b.Open = true
			b.Red.Alliance, b.Blue.Alliance, b.Red.Won, b.Blue.Won = st.Red+1, st.Blue+1, st.RedWins, st.BlueWins
		case known(f, s.Red, over) && known(f, s.Blue, over): // over, or a bye
			red, blue := c.pair(i)
			redWins := red != none
			b.Red.Alliance, b.Blue.Alliance, b.Red.Bye, b.Blue.Bye = red+1, blue+1, red == none, blue == none
			if has := standings[i]; red != none && blue != none && has != nil {
				b.Red.Won, b.Blue.Won = has.RedWins, has.BlueWins
				redWins = has.RedWins >= s.Wins
			}
			over[i] = true
			c.end(i, red, blue, redWins)
			b.Winner = c.winner[i] + 1
		default:
			b.Red.Alliance, b.Blue.Alliance = settled(f, c, s.Red, over), settled(f, c, s.Blue, over)
		}
		if n := len(games[i]); n > 0 && over[i] {
			b.Match = games[i][n-1].Match
		} else {
			b.Match = number(f, matches, alliances, OpenSeries{Series: i, Standing: Standing{
				Red: b.Red.Alliance - 1, Blue: b.Blue.Alliance - 1, RedWins: b.Red.Won, BlueWins: b.Blue.Won}})
		}
		out[i] = b
	}
	for i, s := range f.Series {
		for _, from := range []Source{s.Red, s.Blue} {
			switch from.Kind {
			case 'W':
				out[from.N-1].WinnerTo = i + 1
			case 'L':
				out[from.N-1].LoserTo = i + 1
			}
		}
	}
	return out
}

// known reports whether it is settled who comes from a source.
func known(f *Format, s Source, over []bool) bool {
	switch s.Kind {
	case 'A':
		return true
	case 'T':
		return !slices.Contains(over[:f.Table], false)
	}
	return over[s.N-1]
}

// settled is the alliance of a source from 1; 0: it is not known, or a bye.
func settled(f *Format, c *course, s Source, over []bool) int {
	if s.Kind == 'T' || !known(f, s, over) {
		return 0
	}
	return c.from(s) + 1
}

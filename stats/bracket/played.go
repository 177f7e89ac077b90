package bracket

import (
	"fmt"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Played reads what official results of playoff and final matches have decided:
// the standing of each series, by series; nil where nothing is decided.
//
// A match belongs to the first open series of the two alliances that most of
// its teams belong to, so a backup robot does not matter, nor how a venue
// numbers its matches. Of several plays of a match the last one counts. A tie
// is decided by the tie order, or not at all: then the game is played again.
// The error names a match whose alliances do not meet.
func Played(f *Format, g *game.Game, alliances [][]record.TeamID, matches []record.Match) ([]*Standing, error) {
	out := make([]*Standing, len(f.Series))
	for _, m := range counting(matches) {
		sides := [2]int{allianceOf(alliances, m.Red.Teams), allianceOf(alliances, m.Blue.Teams)}
		open := Open(f, out)
		i := slices.IndexFunc(open, func(o OpenSeries) bool {
			return o.Red == sides[0] && o.Blue == sides[1] || o.Red == sides[1] && o.Blue == sides[0]
		})
		if i < 0 || sides[0] == sides[1] {
			return nil, &MismatchError{Match: m.ID, Alliances: [2]int{sides[0] + 1, sides[1] + 1}}
		}
		redWins, decided := Decide(g, m)
		if !decided {
			continue
		}
		o := open[i]
		if redWins == (o.Red == sides[0]) {
			o.RedWins++
		} else {
			o.BlueWins++
		}
		out[o.Series] = &o.Standing
	}
	return out, nil
}

// OpenSeries is a series that can be played: both alliances are known and
// neither has won it.
type OpenSeries struct {
	Series int
	Standing
}

// Open are the series that can be played now, in order.
func Open(f *Format, standings []*Standing) []OpenSeries {
	var out []OpenSeries
	c := newCourse(f)
	over := make([]bool, len(f.Series))
	known := func(s Source) bool { return s.Kind == 'A' || s.Kind != 'T' && over[s.N-1] }
	for i := range f.Series {
		s := &f.Series[i]
		switch {
		case s.Red.Kind == 'T':
			if slices.Contains(over[:f.Table], false) {
				continue
			}
		case !known(s.Red) || !known(s.Blue):
			continue
		}
		red, blue := c.pair(i)
		o := OpenSeries{Series: i, Standing: Standing{Red: red, Blue: blue}}
		if standings[i] != nil {
			o.Standing = *standings[i]
		}
		switch {
		case red == none || blue == none:
			over[i] = true
			c.end(i, red, blue, red != none)
		case o.RedWins >= s.Wins || o.BlueWins >= s.Wins:
			over[i] = true
			c.end(i, red, blue, o.RedWins >= s.Wins)
		default:
			out = append(out, o)
		}
	}
	return out
}

// MismatchError is a playoff match of alliances that do not meet then.
type MismatchError struct {
	Match     record.MatchID
	Alliances [2]int // red, blue, from 1; 0: its teams belong to none
}

// Error says what is wrong and what to do.
func (e *MismatchError) Error() string {
	if e.Alliances[0] == 0 || e.Alliances[1] == 0 {
		return fmt.Sprintf("%s has teams that belong to no alliance; correct the alliances or the match", e.Match)
	}
	return fmt.Sprintf("%s is played by alliances %d and %d, which do not meet then; correct the alliances or the match", e.Match, e.Alliances[0], e.Alliances[1])
}

// counting are the played matches of the playoff in order, of each the last
// play.
func counting(matches []record.Match) []*record.Match {
	var out []*record.Match
	for i := range matches {
		m := &matches[i]
		if m.ID.Stage != record.PlayoffStage && m.ID.Stage != record.Final || !m.Played() {
			continue
		}
		if n := len(out); n > 0 && out[n-1].ID == m.ID {
			out = out[:n-1]
		}
		out = append(out, m)
	}
	return out
}

// allianceOf is the alliance that most of the teams belong to; none: no team does.
func allianceOf(alliances [][]record.TeamID, teams []record.TeamID) int {
	best, most := none, 0
	for a, members := range alliances {
		n := 0
		for _, t := range teams {
			if slices.Contains(members, t) {
				n++
			}
		}
		if n > most {
			best, most = a, n
		}
	}
	return best
}

// Decide tells who won a played match: by score, then by the components of the
// tie order. Not decided: it was a tie all the way, or a component that would
// decide was not published.
func Decide(g *game.Game, m *record.Match) (redWins, decided bool) {
	red, blue := m.Red.Result, m.Blue.Result
	if red.Score != blue.Score {
		return red.Score > blue.Score, true
	}
	if g.Playoff == nil {
		return false, false
	}
	for _, id := range g.Playoff.TieOrder {
		a, known := red.Components[id]
		b, also := blue.Components[id]
		switch {
		case !known || !also:
			return false, false
		case a != b:
			return a > b, true
		}
	}
	return false, false
}

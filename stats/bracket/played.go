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
	out, _, err := replay(f, g, alliances, matches)
	return out, err
}

// replay is Played with the games of each series, those that were played again
// included.
func replay(f *Format, g *game.Game, alliances [][]record.TeamID, matches []record.Match) ([]*Standing, [][]record.BracketGame, error) {
	out := make([]*Standing, len(f.Series))
	games := make([][]record.BracketGame, len(f.Series))
	all := played(matches)
	for k, m := range all {
		sides := [2]int{allianceOf(alliances, m.Red.Teams), allianceOf(alliances, m.Blue.Teams)}
		open := Open(f, out)
		i := slices.IndexFunc(open, func(o OpenSeries) bool {
			return o.Red == sides[0] && o.Blue == sides[1] || o.Red == sides[1] && o.Blue == sides[0]
		})
		if i < 0 || sides[0] == sides[1] {
			return nil, nil, &MismatchError{Match: m.ID, Alliances: [2]int{sides[0] + 1, sides[1] + 1}}
		}
		o := open[i]
		done := record.BracketGame{Match: m.ID, Play: m.Play, By: record.Replay}
		if again := k+1 < len(all) && all[k+1].ID == m.ID; !again {
			var redWins bool
			if redWins, done.By = Decide(g, m); done.By != record.Replay {
				done.Winner = sides[0] + 1
				if !redWins {
					done.Winner = sides[1] + 1
				}
				if done.Winner == o.Red+1 {
					o.RedWins++
				} else {
					o.BlueWins++
				}
				out[o.Series] = &o.Standing
			}
		}
		games[o.Series] = append(games[o.Series], done)
	}
	return out, games, nil
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
	for i := range f.Series {
		s := &f.Series[i]
		if !known(f, s.Red, over) || !known(f, s.Blue, over) {
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

// played are the played matches of the playoff in order, every play.
func played(matches []record.Match) []*record.Match {
	var out []*record.Match
	for i := range matches {
		m := &matches[i]
		if m.ID.Playoffs() && m.Played() {
			out = append(out, m)
		}
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

// Decide tells who won a played match and what decided it (see
// record.BracketGame): the score, or of a tie the first component of the tie
// order that differs. A tie all the way is record.Replay, and so is one in which
// a component that would decide was not published.
func Decide(g *game.Game, m *record.Match) (redWins bool, by string) {
	red, blue := m.Red.Result, m.Blue.Result
	if red.Score != blue.Score {
		return red.Score > blue.Score, record.ByScore
	}
	if g.Playoff == nil {
		return false, record.Replay
	}
	for _, id := range g.Playoff.TieOrder {
		a, known := red.Components[id]
		b, also := blue.Components[id]
		switch {
		case !known || !also:
			return false, record.Replay
		case a != b:
			return a > b, id
		}
	}
	return false, record.Replay
}

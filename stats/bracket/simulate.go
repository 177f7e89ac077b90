package bracket

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// replays is how often a drawn game that stays tied is played again before a
// coin decides.
const replays = 10

// Lineup is who of an alliance plays: as many robots as the game lets play, the
// ones that are expected to add most.
func Lineup(fit *contrib.Fit, members []int) []int {
	out := slices.Clone(members)
	add := func(i int) float64 { return fit.Strength(i) * fit.Exposure(i) }
	slices.SortStableFunc(out, func(a, b int) int { return cmp.Compare(add(b), add(a)) })
	return out[:min(len(out), fit.Game().Alliance.Robots)]
}

// game1 draws a game and tells whether red wins it.
func game1(g *game.Game, ties []int, run *simulate.Run, red, blue *simulate.Lineup) bool {
	for range replays {
		o := run.Play(red, blue)
		switch o.Winner() {
		case 0:
			return true
		case 1:
			return false
		}
		for _, c := range ties {
			a, b := o.Sides[0].Components, o.Sides[1].Components
			if len(a) > c && len(b) > c && a[c] != b[c] {
				return a[c] > b[c]
			}
		}
		if g.Playoff != nil && g.Playoff.Then != "replay" {
			break
		}
	}
	return red.Robots[0] < blue.Robots[0] // after so many ties: nobody can tell, and it must end
}

// tieOrder is the game's tie order as indices of Game.Components.
func tieOrder(g *game.Game) []int {
	var out []int
	if g.Playoff != nil {
		for _, id := range g.Playoff.TieOrder {
			if k := slices.IndexFunc(g.Components, func(c game.Component) bool { return c.ID == id }); k >= 0 {
				out = append(out, k)
			}
		}
	}
	return out
}

// Simulate draws whole playoffs, runs of them, from an estimate: each in a
// world of its own, every game with its luck, breakdowns, caps and limits.
// What ev's playoff matches have decided stays. Errors: teams that the estimate
// does not know, a format that does not fit, *MismatchError.
func Simulate(fit *contrib.Fit, ev *record.Event, alliances []record.SelectedAlliance, runs int, rng *rand.Rand) (*record.Bracket, error) {
	g := fit.Game()
	if runs < 1 {
		return nil, errors.New("draw at least one playoff")
	}
	f, err := FormatOf(g.Playoff, len(alliances))
	if err != nil {
		return nil, err
	}
	lineups := make([]simulate.Lineup, len(alliances))
	teams := make([][]record.TeamID, len(alliances))
	out := &record.Bracket{Format: f.Name, Runs: runs, Next: []record.BracketMatch{}}
	for a := range alliances {
		teams[a] = alliances[a].Teams()
		var members []int
		for _, t := range teams[a] {
			i, ok := fit.Index(t)
			if !ok {
				return nil, fmt.Errorf("team %s of alliance %d is not at the event; correct the number", t, alliances[a].Alliance)
			}
			members = append(members, i)
		}
		lineups[a].Robots = Lineup(fit, members)
	}
	standings, games, err := replay(f, g, teams, ev.Matches)
	if err != nil {
		return nil, err
	}
	n := len(alliances)
	places, rounds := f.Places(), f.Rounds()
	ended, met := table2(n, len(places)), table2(n, len(rounds))
	reach := table2(len(f.Series), n)
	drawn := table2(len(f.Series), 2) // games drawn of a series that is due, those that red won
	roundOf := make([]int, len(f.Series))
	for i, s := range f.Series {
		roundOf[i] = slices.Index(rounds, s.Round)
	}
	open := Open(f, standings)
	due := make([]bool, len(f.Series))
	for _, o := range open {
		due[o.Series] = true
	}
	run, ties := simulate.New(fit).For(record.MatchID{Stage: record.PlayoffStage, Number: 1}).NewRun(rng), tieOrder(g)
	seen := make([]int, n*len(rounds))
	for k := range runs {
		run.DrawWorld()
		for a, p := range Walk(f, standings, func(i, red, blue int) bool {
			yes := game1(g, ties, run, &lineups[red], &lineups[blue])
			if due[i] {
				drawn[i][0]++
				if yes {
					drawn[i][1]++
				}
			}
			return yes
		}, func(i, red, blue int) {
			for _, a := range []int{red, blue} {
				reach[i][a]++
				if at := a*len(rounds) + roundOf[i]; seen[at] != k+1 { // once a course
					seen[at] = k + 1
					met[a][roundOf[i]]++
				}
			}
		}) {
			ended[a][p]++
		}
	}
	each := 1 / float64(runs)
	for a := range n {
		row := record.BracketAlliance{Alliance: a + 1, Teams: teams[a], Rounds: map[string]float64{}, Places: map[string]float64{}}
		row.Win = ended[a][0] * each
		row.Final = (ended[a][0] + ended[a][1]) * each
		row.SE = math.Sqrt(row.Win * (1 - row.Win) * each)
		for r, name := range rounds {
			row.Rounds[name] = met[a][r] * each
		}
		for p, place := range places {
			row.Places[place.String()] = ended[a][p] * each
		}
		out.Alliances = append(out.Alliances, row)
	}
	out.Series = shape(f, ev.Matches, teams, standings, games)
	for i := range out.Series {
		for a := range n {
			out.Series[i].Reach = append(out.Series[i].Reach, reach[i][a]*each)
		}
	}
	for _, o := range open {
		p := drawn[o.Series]
		if p[0] == 0 {
			continue
		}
		out.Next = append(out.Next, record.BracketMatch{
			Match: out.Series[o.Series].Match, Round: f.Series[o.Series].Round, Red: o.Red + 1, Blue: o.Blue + 1,
			Chance: record.Sides{Red: p[1] / p[0], Blue: 1 - p[1]/p[0]},
		})
	}
	return out, nil
}

func table2(n, m int) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, m)
	}
	return out
}

// number is the match in which the next game of a series is played: the one on
// the schedule, or else as the format counts. Of a series of several games the
// format counts three matches: P1 to P3 are the first series.
func number(f *Format, matches []record.Match, alliances [][]record.TeamID, o OpenSeries) record.MatchID {
	for i := range matches {
		m := &matches[i]
		if o.Red == none || o.Blue == none || m.Played() || !m.ID.Playoffs() {
			continue
		}
		red, blue := allianceOf(alliances, m.Red.Teams), allianceOf(alliances, m.Blue.Teams)
		if red == o.Red && blue == o.Blue || red == o.Blue && blue == o.Red {
			return m.ID
		}
	}
	s := &f.Series[o.Series]
	game := o.RedWins + o.BlueWins + 1
	switch {
	case s.Final:
		return record.MatchID{Stage: record.Final, Number: game}
	case s.Wins == 1:
		return record.MatchID{Stage: record.PlayoffStage, Number: o.Series + 1}
	}
	return record.MatchID{Stage: record.PlayoffStage, Number: o.Series*(2*s.Wins-1) + game}
}

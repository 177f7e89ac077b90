package standings

import (
	"math"
	"strings"
	"testing"

	"sextant/stats/game"
	"sextant/stats/record"
)

// pairs is a game of alliances of two.
func pairs() *game.Game {
	return &game.Game{
		ID: "pairs", Name: "Pairs", Version: 1, Alliance: game.AllianceSize{Robots: 2},
		Actions:    []game.Action{{ID: "barrel", Kind: game.Count, Points: 1}, {ID: "early", Kind: game.Count, Points: 1}},
		Components: []game.Component{{ID: "barrels", Count: []string{"barrel"}}, {ID: "autonomous", Sum: []string{"early"}}},
		RankingPoints: []game.RankingPoint{
			{ID: "win", Points: 2, When: game.Condition{Outcome: "win"}},
			{ID: "tie", Points: 1, When: game.Condition{Outcome: "tie"}},
			{ID: "laden", Points: 1, When: game.Condition{Component: "barrels", AtLeast: &game.Value{Number: 20}}},
		},
		RankingOrder: []string{"ranking_points", "score", "autonomous"},
		Selection:    &game.Selection{Alliances: 2, Picks: 1, Order: "serpentine"},
	}
}

func ids(s string) (out []record.TeamID) {
	for _, f := range strings.Fields(s) {
		out = append(out, record.TeamID(f))
	}
	return out
}

// played is a match of pairs; figures are score, barrels, autonomous of red, then of blue.
func played(t *testing.T, id string, play int, red, blue string, figures ...float64) record.Match {
	t.Helper()
	match, err := record.ParseMatch(id)
	if err != nil {
		t.Fatal(err)
	}
	m := record.Match{ID: match, Play: play, Red: record.Alliance{Teams: ids(red)}, Blue: record.Alliance{Teams: ids(blue)}}
	if len(figures) == 0 {
		return m
	}
	for k, a := range []*record.Alliance{&m.Red, &m.Blue} {
		f := figures[3*k:]
		a.Result = &record.Result{Score: f[0], Components: map[string]float64{"barrels": f[1], "autonomous": f[2]}}
	}
	return m
}

func event(teams string, matches ...record.Match) *record.Event {
	ev := &record.Event{Game: pairs(), Matches: matches}
	for _, t := range ids(teams) {
		ev.Teams = append(ev.Teams, record.Team{ID: t})
	}
	return ev
}

// TestCurrent is a table worked by hand. Ranking points, scores and autonomous
// points of each robot:
//
//	1   Q1 3, Q2 1, Q4 2 (not there, and not disqualified)  6/3 = 2    (50+40+30)/3 = 40  (10+6+8)/3 = 8
//	5   Q2 2; Q3 as a surrogate does not count              2/1 = 2    40                 6
//	4   Q1 0, Q3 3                                          3/2
//	6   Q2 2, Q3 disqualified: nothing, and it counts; Q4 2 4/3
//	2   Q1 3, Q3 0, Q4 0                                    3/3
//	3   Q1 0, Q2 1, Q4 0                                    1/3
//	9 10  Q5 won, but the venue published 0                 0          12
//	7 8   Q5 lost                                           0          10; only the lot parts them
//	11  plays no match that counts
func TestCurrent(t *testing.T) {
	t.Parallel()
	q3 := played(t, "Q3", 1, "2 5", "4 6", 20, 0, 2, 60, 21, 12)
	q3.Red.Surrogates, q3.Blue.Disqualified = ids("5"), ids("6")
	q4 := played(t, "Q4", 2, "1 6", "2 3", 30, 3, 8, 25, 2, 3)
	q4.Red.Absent = ids("1")
	q5 := played(t, "Q5", 1, "7 8", "9 10", 10, 0, 1, 12, 0, 1)
	none := 0.0
	q5.Blue.Result.RankingPoints = &none
	ev := event("1 2 3 4 5 6 7 8 9 10 11",
		played(t, "W1", 1, "7 8", "9 10", 99, 30, 9, 0, 0, 0),
		played(t, "Q1", 1, "1 2", "3 4", 50, 20, 10, 30, 5, 4),
		played(t, "Q2", 1, "1 3", "5 6", 40, 10, 6, 40, 25, 6),
		q3,
		played(t, "Q4", 1, "1 6", "2 3", 0, 0, 0, 99, 30, 30),
		q4, q5,
		played(t, "Q6", 1, "1 2", "3 4"),
		played(t, "P1", 1, "7 8", "9 10", 99, 30, 9, 0, 0, 0),
	)
	want := []struct {
		team   record.TeamID
		rank   int
		points float64
		n      int
		toCome int
	}{
		{"1", 1, 2, 3, 1}, {"5", 2, 2, 1, 0}, {"4", 3, 1.5, 2, 1}, {"6", 4, 4.0 / 3, 3, 0}, {"2", 5, 1, 3, 1}, {"3", 6, 1.0 / 3, 3, 1},
		{"9", 7, 0, 1, 0}, {"10", 7, 0, 1, 0}, {"7", 9, 0, 1, 0}, {"8", 9, 0, 1, 0}, {"11", 11, 0, 0, 0},
	}
	got := Current(ev)
	if len(got) != len(want) {
		t.Fatalf("%d places, want %d", len(got), len(want))
	}
	for i, w := range want {
		g := got[i]
		if g.Team != w.team || g.Rank != w.rank || math.Abs(g.RankingPoints-w.points) > 1e-12 || g.Matches != w.n || g.ToCome != w.toCome {
			t.Errorf("place %d: %+v, want %+v", i+1, g, w)
		}
	}
	if f := got[0].Figures; f[1] != 40 || f[2] != 8 {
		t.Errorf("figures of the first: %v", f)
	}
}

// Without a published figure the game file decides; with one, the venue.
func TestPoints(t *testing.T) {
	t.Parallel()
	m := played(t, "Q1", 1, "1 2", "3 4", 50, 20, 10, 30, 25, 4)
	m.Blue.Result.Components = nil
	b := newBoard(event("1 2 3 4", m))
	if got := b.points(&m, record.Red); got != 3 {
		t.Errorf("a win with a full load: %v ranking points, want 3", got)
	}
	if got := b.points(&m, record.Blue); got != 0 {
		t.Errorf("a load that nobody published: %v ranking points, want none", got)
	}
	five := 5.0
	m.Red.Result.RankingPoints = &five
	if got := b.points(&m, record.Red); got != 5 {
		t.Errorf("published 5, got %v", got)
	}
}

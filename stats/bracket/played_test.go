package bracket_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"sextant/stats/bracket"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// side is an alliance's result: score, autonomous, finish; below 0: not published.
type side struct{ score, autonomous, finish float64 }

func (s side) result() *record.Result {
	r := &record.Result{Score: s.score, Components: map[string]float64{}}
	for id, v := range map[string]float64{"autonomous": s.autonomous, "finish": s.finish} {
		if v >= 0 {
			r.Components[id] = v
		}
	}
	return r
}

// Worked by hand from the game's own words: "tie_order": ["autonomous",
// "finish"], "then": "replay".
func TestDecide(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name      string
		red, blue side
		redWins   bool
		by        string
	}{
		{"More points", side{81, 0, 0}, side{80, 30, 30}, true, record.ByScore},
		{"Fewer points", side{79, 30, 30}, side{80, 0, 0}, false, record.ByScore},
		{"Tied, autonomous for red", side{80, 21, 0}, side{80, 18, 40}, true, "autonomous"},
		{"Tied, autonomous for blue", side{80, 18, 40}, side{80, 21, 0}, false, "autonomous"},
		{"Tied twice, finish for red", side{80, 21, 14}, side{80, 21, 12}, true, "finish"},
		{"Tied twice, finish for blue", side{80, 21, 2}, side{80, 21, 12}, false, "finish"},
		{"Tied all the way", side{80, 21, 14}, side{80, 21, 14}, false, record.Replay},
		{"None to none", side{0, 0, 0}, side{0, 0, 0}, false, record.Replay},
		{"Autonomous not published, so finish must not decide", side{80, -1, 14}, side{80, -1, 2}, false, record.Replay},
		{"Autonomous of one side only", side{80, 21, 14}, side{80, -1, 2}, false, record.Replay},
		{"Autonomous tied, finish not published", side{80, 21, -1}, side{80, 21, -1}, false, record.Replay},
	} {
		m := &record.Match{Red: record.Alliance{Result: tt.red.result()}, Blue: record.Alliance{Result: tt.blue.result()}}
		if redWins, by := bracket.Decide(g, m); redWins != tt.redWins || by != tt.by {
			t.Errorf("%s: red wins %v by %s, want %v by %s", tt.name, redWins, by, tt.redWins, tt.by)
		}
		back := &record.Match{Red: m.Blue, Blue: m.Red}
		if redWins, by := bracket.Decide(g, back); by != tt.by || by != record.Replay && redWins == tt.redWins {
			t.Errorf("%s, sides exchanged: red wins %v by %s", tt.name, redWins, by)
		}
	}
}

// game2 is a game of alliances, from 1, of the helper alliances.
type game2 struct {
	match     string
	play      int
	red, blue int
	r, b      side
}

// One course by hand: P1 tied all the way and played again, P2 by the tie
// order, P4 with a backup robot, the loser of P1 in the lower bracket, the final
// over three games with the second tied all the way and played again.
func TestShape(t *testing.T) {
	t.Parallel()
	ev, fit := event(t)
	all := alliances(ev)
	won, lost, same := side{90, 20, 10}, side{70, 20, 10}, side{80, 21, 14}
	course := []game2{
		{"P1", 1, 1, 8, same, same},
		{"P1", 2, 1, 8, lost, won},                         // 8 goes up, 1 down
		{"P2", 1, 4, 5, side{80, 21, 0}, side{80, 18, 40}}, // 4 by autonomous
		{"P3", 1, 2, 7, won, lost},                         //
		{"P4", 1, 3, 6, won, lost},                         //
		{"P5", 1, 1, 5, won, lost},                         // 5 is out
		{"P6", 1, 7, 6, won, lost},                         // 6 is out
		{"P7", 1, 8, 4, lost, won},                         // 4 up
		{"P8", 1, 2, 3, won, lost},                         // 2 up
		{"P9", 1, 8, 7, won, lost},                         // 7 is out
		{"P10", 1, 3, 1, lost, won},                        // 3 is out
		{"P11", 1, 4, 2, won, lost},                        // 4 in the final
		{"P12", 1, 1, 8, won, lost},                        // 8 is fourth
		{"P13", 1, 2, 1, lost, won},                        // 2 is third
		{"F1", 1, 4, 1, won, lost},                         // 1 : 0
		{"F2", 1, 4, 1, same, same},                        // tied all the way
		{"F2", 2, 4, 1, lost, won},                         // 1 : 1
		{"F3", 1, 4, 1, side{60, 12, 30}, side{60, 13, 0}}, // 1 wins by autonomous
	}
	next := map[int]string{2: "P2", 6: "P6", 14: "F1", 15: "F2", 16: "F2", 17: "F3"} // the first that is due after so many games
	for n := range len(course) + 1 {
		played := *ev
		played.Matches = slices.Clone(ev.Matches)
		for _, c := range course[:n] {
			id, err := record.ParseMatch(c.match)
			if err != nil {
				t.Fatal(err)
			}
			m := record.Match{ID: id, Play: c.play,
				Red:  record.Alliance{Teams: slices.Clone(all[c.red-1].Teams()), Result: c.r.result()},
				Blue: record.Alliance{Teams: slices.Clone(all[c.blue-1].Teams()), Result: c.b.result()}}
			if c.match == "P4" {
				m.Red.Teams[2] = "40101" // a backup robot from another alliance's number
			}
			played.Matches = append(played.Matches, m)
		}
		b, err := bracket.Simulate(fit, &played, all, 1, rand.New(rand.NewPCG(1, 0)))
		if err != nil {
			t.Fatalf("after %d games: %v", n, err)
		}
		if want := next[n]; want != "" && b.Next[0].Match.String() != want {
			t.Errorf("after %d games %s is due, want %s", n, b.Next[0].Match, want)
		}
		games := 0
		for _, s := range b.Series {
			games += len(s.Games)
		}
		if games != n {
			t.Errorf("%d games are shown of %d", games, n)
		}
		switch n {
		case 0:
			if s := b.Series[8]; s.Red.From != "L7" || s.Blue.From != "W6" || s.Red.Alliance != 0 || s.Winner != 0 || s.WinnerTo != 12 || s.LoserTo != 0 || s.Out != "5-6" || s.Match.String() != "P9" {
				t.Errorf("before anything was played: %+v", s)
			}
		case 1: // tied all the way: nobody has won, and it is due again
			if s := b.Series[0]; !s.Open || s.Winner != 0 || s.Games[0].By != record.Replay || s.Match.String() != "P1" {
				t.Errorf("after a tie: %+v", s)
			}
		case len(course):
			f := b.Series[13]
			var how []string
			for _, g := range f.Games {
				how = append(how, fmt.Sprintf("%s/%d %d %s", g.Match, g.Play, g.Winner, g.By))
			}
			want := []string{"F1/1 4 score", "F2/1 0 replay", "F2/2 1 score", "F3/1 1 autonomous"}
			if f.Winner != 1 || f.Red.Won != 1 || f.Blue.Won != 2 || !slices.Equal(how, want) || len(b.Next) != 0 {
				t.Errorf("the final: %+v, games %v, want %v", f, how, want)
			}
			for a, place := range []string{"1", "3", "5-6", "2", "7-8", "7-8", "5-6", "4"} {
				if p := b.Alliances[a].Places[place]; p != 1 {
					t.Errorf("alliance %d is not %s: %v", a+1, place, b.Alliances[a].Places)
				}
			}
		}
	}
}

// What is drawn of a series must agree with what is drawn of rounds and places.
func TestShapeReach(t *testing.T) {
	t.Parallel()
	ev, fit := event(t)
	b, err := bracket.Simulate(fit, ev, alliances(ev), 500, rand.New(rand.NewPCG(1, 0)))
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range b.Series {
		sum := 0.0
		for _, p := range s.Reach {
			sum += p
		}
		if sum < 2-1e-9 || sum > 2+1e-9 {
			t.Errorf("series %d is played by %.3f alliances", s.Series, sum)
		}
	}
	for a := range b.Alliances {
		if got, want := b.Series[13].Reach[a], b.Alliances[a].Final; got < want-1e-9 || got > want+1e-9 {
			t.Errorf("alliance %d reaches the final with %.3f and %.3f", a+1, got, want)
		}
	}
}

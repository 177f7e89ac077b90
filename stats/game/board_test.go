package game_test

import (
	"math/rand/v2"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"

	"sextant/stats/game"
)

// write puts what an alliance did on a sheet by hand, unit by unit.
func write(s *game.Scorer, g *game.Game, d *game.Sheet, p game.Played) {
	d.Reset(len(p.Robots))
	row := func(row []float64, r game.Robot, byAlliance bool) {
		for k, a := range g.Actions {
			switch {
			case a.ByAlliance() != byAlliance:
			case a.Kind == game.Choice:
				for j, o := range a.Options {
					if r.Choices[a.ID] == o.ID {
						row[s.Unit(k, j)] = 1
					}
				}
			default:
				row[s.Unit(k, 0)] = r.Counts[a.ID]
			}
		}
	}
	for i, r := range p.Robots {
		row(d.Robot(i), r, false)
	}
	row(d.Alliance(), p.Alliance, true)
	for k, f := range g.Fouls {
		d.Fouls[k] = p.Fouls[f.ID]
	}
}

// One board that is used for match after match, with alliances of one to four
// robots, says what scoring each match on its own says, by numbers as by ids.
func TestBoardIsUsedAgain(t *testing.T) {
	t.Parallel()
	for _, name := range games {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			g := load(t, name)
			s := game.NewScorer(g)
			b := s.NewBoard()
			rng := rand.New(rand.NewPCG(3, 4))
			for range 200 {
				played := [2]game.Played{randomPlayed(rng, g), randomPlayed(rng, g)}
				for side := range played {
					other := randomPlayed(rng, g)
					played[side].Robots = append(played[side].Robots, other.Robots...)[:1+rng.IntN(4)]
					write(s, g, &b.Did[side], played[side])
				}
				b.Score()
				red, blue := g.Score(played[0], played[1])
				if diff := gocmp.Diff([]game.Scored{red, blue}, []game.Scored{b.Scored(0), b.Scored(1)}); diff != "" {
					t.Fatalf("by ids (-) and by numbers on a used board (+):\n%s", diff)
				}
			}
		})
	}
}

// Who changes the points between Credit and Rank changes who wins, and no more.
func TestBoardRanksByPoints(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	b := game.NewScorer(g).NewBoard()
	b.Enter(0, &game.Played{Robots: []game.Robot{{Counts: map[string]float64{"deck": 20}}}})
	b.Enter(1, &game.Played{Robots: []game.Robot{{Counts: map[string]float64{"hold": 3}}}})
	b.Credit()
	b.Got[1].Points = 200
	b.Rank()
	for side, want := range []map[string]bool{
		{"win": false, "tie": false, "laden": true, "berth": false},
		{"win": true, "tie": false, "laden": false, "berth": false},
	} {
		if diff := gocmp.Diff(want, b.Scored(side).RankingPoints); diff != "" {
			t.Errorf("side %d (-want +got):\n%s", side, diff)
		}
	}
	if got := b.Got[1].Ranking; got != 2 {
		t.Errorf("blue has %v ranking points, want 2", got)
	}
}

func TestBoardAllocatesNothing(t *testing.T) {
	for _, name := range games {
		g := load(t, name)
		s := game.NewScorer(g)
		b := s.NewBoard()
		rng := rand.New(rand.NewPCG(5, 6))
		for side := range 2 {
			write(s, g, &b.Did[side], randomPlayed(rng, g))
		}
		b.Score()
		if n := testing.AllocsPerRun(100, func() {
			b.Did[0].Reset(g.Alliance.Robots)
			b.Score()
		}); n != 0 {
			t.Errorf("%s: %v allocations a match, want none", name, n)
		}
	}
}

func BenchmarkBoard(b *testing.B) {
	for _, name := range games {
		b.Run(name, func(b *testing.B) {
			g := load(b, name)
			s := game.NewScorer(g)
			board := s.NewBoard()
			rng := rand.New(rand.NewPCG(1, 2))
			for side := range 2 {
				write(s, g, &board.Did[side], randomPlayed(rng, g))
			}
			b.ReportAllocs()
			for b.Loop() {
				board.Score()
			}
		})
	}
}

package game_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"sextant/stats/game"
)

// approx compares sums of fractions; every value here is below a thousand.
var approx = cmpopts.EquateApprox(0, 1e-9)

func TestScoreByHand(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	red := game.Played{
		Robots: []game.Robot{
			{Counts: map[string]float64{"cast_off": 1, "auto_deck": 2, "deck": 5, "hold": 3, "pennant": 4}, Choices: map[string]string{"mooring": "lifted"}},
			{Counts: map[string]float64{"cast_off": 1, "deck": 6, "pennant": 3}, Choices: map[string]string{"mooring": "lifted"}},
			{Counts: map[string]float64{"auto_deck": 1, "hold": 4, "pennant": 2}, Choices: map[string]string{"mooring": "lifted"}},
		},
		Fouls: map[string]float64{"minor": 1},
	}
	blue := game.Played{
		Robots: []game.Robot{
			{Counts: map[string]float64{"deck": 10}, Choices: map[string]string{"mooring": "moored"}},
			{Counts: map[string]float64{"auto_deck": 1, "deck": 9}, Choices: map[string]string{"mooring": "none"}},
			{},
		},
		Fouls: map[string]float64{"minor": 2, "major": 1},
	}
	gotRed, gotBlue := g.Score(red, blue)

	// Red: 2 × 3 + 3 × 6 = 24 in the autonomous period; 11 × 4 + 7 × 2 = 58 on
	// deck and in the hold; of 9 pennants 6 count: 30; of 3 lifted 2 count: 20.
	// 24 + 58 + 30 + 20 = 132, and 2 × 4 + 10 = 18 from blue's fouls: 150.
	// Robot 1: 3 + 12 + 20 + 6 = 41, pennants 4 × 6/9 × 5 = 40/3, lifted 2/3 × 10.
	// Robot 2: 3 + 24 = 27, 3 × 6/9 × 5 = 10, 20/3. Robot 3: 6 + 8 = 14, 20/3, 20/3.
	// Barrels: 3 + 11 + 7 = 21, at least 20. Finish 20, at least 14.
	wantRed := game.Scored{
		Points: 150, FromFouls: 18,
		Components:    map[string]float64{"autonomous": 24, "finish": 20, "barrels": 21},
		RankingPoints: map[string]bool{"win": true, "tie": false, "laden": true, "berth": true},
		Ranking:       4,
		Credited: map[string]float64{
			"cast_off": 2, "auto_deck": 3, "deck": 11, "hold": 7, "pennant": 6,
			"mooring:none": 0, "mooring:moored": 0, "mooring:lifted": 2,
		},
		Robots: []float64{41 + 40./3 + 20./3, 27 + 10 + 20./3, 14 + 20./3 + 20./3},
	}
	// Blue: 6 + 19 × 4 + 2 = 84, and 4 from red's foul: 88. Barrels 20: just enough.
	wantBlue := game.Scored{
		Points: 88, FromFouls: 4,
		Components:    map[string]float64{"autonomous": 6, "finish": 2, "barrels": 20},
		RankingPoints: map[string]bool{"win": false, "tie": false, "laden": true, "berth": false},
		Ranking:       1,
		Credited: map[string]float64{
			"cast_off": 0, "auto_deck": 1, "deck": 19, "hold": 0, "pennant": 0,
			"mooring:none": 1, "mooring:moored": 1, "mooring:lifted": 0,
		},
		Robots: []float64{42, 42, 0},
	}
	if diff := cmp.Diff(wantRed, gotRed, approx); diff != "" {
		t.Errorf("red (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(wantBlue, gotBlue, approx); diff != "" {
		t.Errorf("blue (-want +got):\n%s", diff)
	}
	if got, want := g.RobotPoints(red.Robots[0]), 41.0+20+10; got != want {
		t.Errorf("RobotPoints = %g, want %g", got, want)
	}
}

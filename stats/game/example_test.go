package game_test

import (
	"fmt"

	"sextant/stats/game"
)

// A game file is read, and a match of two alliances is scored by it. Of three
// flags an alliance is credited with two.
func Example() {
	g, err := game.Load("game.json", []byte(`{
	  "id": "flags", "name": "Flags", "version": 1,
	  "alliance": {"robots": 2},
	  "periods": [{"id": "all", "name": "All", "seconds": 100}],
	  "actions": [{"id": "flag", "period": "all", "kind": "count", "points": 5, "alliance_max": 2}],
	  "fouls": [{"id": "push", "opponent_points": 4}],
	  "components": [{"id": "flags", "count": ["flag"]}],
	  "ranking_points": [{"id": "win", "points": 2, "when": "win"}]
	}`))
	if err != nil {
		fmt.Println(err)
		return
	}
	red, blue := g.Score(
		game.Played{Robots: []game.Robot{{Counts: map[string]float64{"flag": 2}}, {Counts: map[string]float64{"flag": 1}}}},
		game.Played{Fouls: map[string]float64{"push": 1}},
	)
	fmt.Println("red", red.Points, "of which by fouls", red.FromFouls, "flags", red.Components["flags"], "ranking points", red.Ranking)
	fmt.Println("blue", blue.Points)
	// Output:
	// red 14 of which by fouls 4 flags 2 ranking points 2
	// blue 0
}

// A mistake is told with its place and what to do.
func ExampleLoad() {
	_, err := game.Load("game.json", []byte(`{
  "id": "flags", "name": "Flags", "version": 1,
  "alliance": {"robots": 2},
  "periods": [{"id": "all", "name": "All", "seconds": 100}],
  "actions": [{"id": "flag", "period": "al", "kind": "count", "points": 5}]
}`))
	fmt.Println(err)
	// Output:
	// game.json:5:40: /actions/0/period: "al" is no period; write the id of one of periods, or take it away for an action at any time
}

package study

import (
	"os"
	"path/filepath"
	"testing"

	"sextant/stats/game"
	"sextant/stats/generate"
)

// With the last 40 % of the matches hidden, the chance to be a captain has at
// most three quarters of the Brier score of the order as it is, in games that
// nothing was tuned on too.
func TestSeeded(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"slackwater", "stonefield"} {
		text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "games", name+".json"))
		if err != nil {
			t.Fatal(err)
		}
		g, err := game.Load(name, text)
		if err != nil {
			t.Fatal(err)
		}
		if g.Selection == nil {
			g.Selection = &game.Selection{Alliances: 8, Picks: 2, Order: "serpentine"}
		}
		opt := SeededOptions{Seeds: 5, First: 901, Events: generate.Defaults(), Hidden: 0.4, Runs: 1000}
		opt.Events.Teams = 40
		opt.Events.MatchesPerTeam = 10
		got, err := SeededBy(t.Context(), g, opt)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: Brier score %.4f, order as it is %.4f (ratio %.2f), smoothed in hindsight %.4f (ratio %.2f, width %.2f)",
			name, got.Forecast, got.Naive, got.Forecast/got.Naive, got.Smoothed, got.Forecast/got.Smoothed, got.Width)
		if got.Forecast > 0.75*got.Naive || got.Forecast <= 0 {
			t.Errorf("%s: %.4f is more than 0.75 of %.4f", name, got.Forecast, got.Naive)
		}
	}
}

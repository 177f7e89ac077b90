package study

import (
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"sextant/stats/contrib/contribtest"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
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
		if got.Ratio > 0.75 || got.Forecast <= 0 || math.Abs(got.Ratio-got.Forecast/got.Naive) > 1e-12 || got.RatioSE <= 0 {
			t.Errorf("%s: %.4f is more than 0.75 of %.4f", name, got.Forecast, got.Naive)
		}
	}
}

var many = flag.Bool("many", false, "measure on ten events of 60 robots instead of three of 30")

// past is an event that was invented to its end.
type past struct{ all *record.Event }

func (p past) Matches() int { return len(p.all.Matches) }

func (p past) Event(n int) *record.Event {
	ev := *p.all
	ev.Matches, ev.Observations = slices.Clone(ev.Matches), nil
	seen := map[record.MatchID]bool{}
	for i := range ev.Matches {
		m := &ev.Matches[i]
		if seen[m.ID] = i < n; !seen[m.ID] {
			m.Red, m.Blue = record.Alliance{Teams: m.Red.Teams}, record.Alliance{Teams: m.Blue.Teams}
		}
	}
	for _, o := range p.all.Observations {
		if seen[o.Match] {
			ev.Observations = append(ev.Observations, o)
		}
	}
	return &ev
}

// TestSeededElsewhere holds the same in two worlds that are neither the
// generator's nor the estimates' own: of plain counts, and of robots that drive
// second by second. Their game has no ranking points: two for a win and one for a
// tie are added, as many games have (common practice, no source). The table of
// stats/standings.md is made by
//
//	go test ./stats/study -run SeededElsewhere -many -v
func TestSeededElsewhere(t *testing.T) {
	t.Parallel()
	g := contribtest.Game()
	g.RankingPoints = []game.RankingPoint{
		{ID: "win", Name: "Win", Points: 2, When: game.Condition{Outcome: "win"}},
		{ID: "tie", Name: "Tie", Points: 1, When: game.Condition{Outcome: "tie"}},
	}
	g.RankingOrder = []string{"ranking_points", "score"}
	g.Selection = &game.Selection{Alliances: 8, Picks: 2, Order: "serpentine"}
	opt := SeededOptions{Seeds: 3, First: 901, Hidden: 0.4, Runs: 500}
	robots := 30
	if *many {
		opt.Seeds, opt.Runs, robots = 10, 5000, 60
	}
	with := func(ev *record.Event) (World, error) {
		ev.Game = g
		return past{ev}, nil
	}
	for _, c := range []struct {
		name  string
		world func(seed int) (World, error)
	}{
		{"counts", func(seed int) (World, error) {
			return with(contribtest.New(rand.New(rand.NewPCG(uint64(seed), 0)), contribtest.Options{Robots: robots, Matches: 2 * robots, Watched: 0.95}).Event)
		}},
		{"cycles", func(seed int) (World, error) {
			return with(contribtest.NewCycles(rand.New(rand.NewPCG(uint64(seed), 0)), contribtest.CyclesOptions{Robots: robots, Matches: 2 * robots, Watched: 0.9}).Event)
		}},
	} {
		opt.World = c.world
		got, err := SeededBy(t.Context(), g, opt)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %d events, Brier score %.4f, order as it is %.4f, ratio %.3f ± %.3f; smoothed in hindsight %.4f", c.name, got.Events, got.Forecast, got.Naive, got.Ratio, got.RatioSE, got.Smoothed)
		if got.Ratio > 0.75 || got.Forecast <= 0 {
			t.Errorf("%s: %.4f is more than 0.75 of %.4f", c.name, got.Forecast, got.Naive)
		}
	}
}

package game_test

import (
	"os"
	"path/filepath"
	"testing"

	"sextant/stats/game"
)

// load reads a game of testdata/games.
func load(t testing.TB, name string) *game.Game {
	t.Helper()
	path := filepath.Join("..", "..", "testdata", "games", name)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	g, err := game.Load(name, data)
	if err != nil {
		t.Fatalf("Load(%s): %v", name, err)
	}
	return g
}

func TestLoad(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	if got, want := g.MatchSeconds(), 153.0; got != want {
		t.Errorf("MatchSeconds = %g, want %g", got, want)
	}
	if got, want := g.DriverSeconds(), 135.0; got != want {
		t.Errorf("DriverSeconds = %g, want %g", got, want)
	}
}

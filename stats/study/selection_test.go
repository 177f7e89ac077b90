package study_test

import (
	"context"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/study"
)

func selections(t testing.TB, events int) *study.SelectionReport {
	t.Helper()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam = 30, 8
	r, err := study.Selections(context.Background(), g, study.SelectionOptions{Events: events, Seed: 3, Invent: opt, Worlds: 16, Plays: 2})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestSelections(t *testing.T) {
	t.Parallel()
	r := selections(t, 3)
	if len(r.Ways) != 6 || r.Ways[0].Way != study.ByWorth || r.Ways[0].WinsBehind != (study.Difference{}) || r.Promised <= 0 || r.Promised >= 1 {
		t.Fatalf("%+v", r)
	}
	differ := false
	for _, w := range r.Ways {
		if w.Wins < 0 || w.Wins > 1 || math.Abs(r.Ways[0].Wins-w.Wins-w.WinsBehind.Mean) > 1e-12 || w.Worth < w.Wins-1e-12 {
			t.Errorf("%+v", w)
		}
		differ = differ || w.Worth != r.Ways[0].Worth
	}
	if !differ {
		t.Error("all ways end alike: the calls have no effect")
	}
	if d := cmp.Diff(r, selections(t, 3)); d != "" {
		t.Errorf("the same seed gives something else: %s", d)
	}
}

func BenchmarkSelections(b *testing.B) {
	for b.Loop() {
		selections(b, 4)
	}
}

package study

import (
	"testing"

	"sextant/stats/game"
	"sextant/stats/generate"
)

// Most of what is suggested is right, few robots an event are named that were
// not altered, and great changes are found. The table of stats/check.md is made
// from other seeds and more of them.
func TestJumpsAreMostlyRight(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	events := generate.Defaults()
	events.Altered = 0.3
	r, err := Jumps(g, JumpOptions{Seeds: 4, First: 6200, Events: events, TruthRuns: 10, Every: 20})
	if err != nil {
		t.Fatal(err)
	}
	if r.Suggested.Mean < 1 || r.Wrong.Mean > 1 || r.Wrong.Mean > r.Suggested.Mean/2 {
		t.Errorf("%.2f robots suggested an event, %.2f of them wrong", r.Suggested.Mean, r.Wrong.Mean)
	}
	var great, found, changes float64
	for _, row := range r.Rows {
		changes += float64(row.Changes)
		if row.From >= 0.25 && row.Kind != generate.Slower {
			great += float64(row.Changes)
			found += float64(row.Changes) * row.Found.Mean
		}
	}
	if great < 5 || found < 0.3*great {
		t.Errorf("%.0f of %.0f great changes of a mechanism found, of %.0f changes in all", found, great, changes)
	}
}

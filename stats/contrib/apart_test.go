package contrib_test

import (
	"math"
	"testing"

	"sextant/stats/contrib"
	"sextant/stats/record"
)

// Every distance is one of a record, and on the whole they are as far out as the
// model says.
func TestApart(t *testing.T) {
	t.Parallel()
	ev := weekend(0.95)
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	type key struct {
		match record.MatchID
		team  record.TeamID
		scout string
	}
	records := map[key]bool{}
	for i := range ev.Observations {
		o := &ev.Observations[i]
		records[key{o.Match, o.Team, o.Scout}] = true
	}
	var squares, n float64
	last := record.MatchID{}
	for _, a := range fit.Apart() {
		if !records[key{a.Match, a.Team, a.Scout}] {
			t.Fatalf("%+v is of no record", a)
		}
		if a.Match.Compare(last) < 0 {
			t.Errorf("%s comes after %s", a.Match, last)
		}
		last = a.Match
		squares += math.Min(a.T*a.T, 9)
		n++
	}
	if n < 0.9*float64(len(ev.Observations)) || squares/n < 0.6 || squares/n > 1.5 {
		t.Errorf("%.0f of %d records, mean square %.2f", n, len(ev.Observations), squares/n)
	}
}

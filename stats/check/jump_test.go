package check_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"sextant/stats/check"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// altered is an event of which robots are altered, and which.
func altered(t *testing.T, seed uint64) (*record.Event, []generate.Alteration) {
	t.Helper()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Altered = 0.4
	w, err := generate.New(g, rand.New(rand.NewPCG(seed, 0)), opt)
	if err != nil {
		t.Fatal(err)
	}
	ev := w.Event(w.Matches())
	ev.Marks = nil
	return ev, w.Truth(2).Altered
}

func jumpOf(list []check.Jump, team record.TeamID) *check.Jump {
	i := slices.IndexFunc(list, func(j check.Jump) bool { return j.Team == team })
	if i < 0 {
		return nil
	}
	return &list[i]
}

// What is suggested is right more often than not, and a mark, or the word that
// nothing changed, ends it.
func TestJumps(t *testing.T) {
	t.Parallel()
	ev, truth := altered(t, 6100)
	fit := estimate(t, ev)
	changes := check.Look(ev, fit, check.Options{}).Changes
	if len(changes) < 3 {
		t.Fatalf("%d changes suggested at an event of many", len(changes))
	}
	right := 0
	for _, j := range changes {
		if j.Probability < check.JumpSuggest || j.Match.Compare(j.Through) > 0 {
			t.Errorf("%+v", j)
		}
		if slices.ContainsFunc(truth, func(a generate.Alteration) bool { return a.Team == j.Team }) {
			right++
		}
	}
	if 3*right < 2*len(changes) {
		t.Errorf("%d of %d are right: %+v", right, len(changes), changes)
	}
	first := changes[0]
	for _, mark := range []record.Mark{
		{Team: first.Team, Match: first.Match, Kind: record.MarkChanged},
		{Team: first.Team, Match: first.Through, Kind: record.MarkNoChange},
	} {
		said := *ev
		said.Marks = []record.Mark{mark}
		if j := jumpOf(check.Look(&said, fit, check.Options{}).Changes, first.Team); j != nil {
			t.Errorf("asked again after %+v: %+v", mark, j)
		}
		said.Marks[0].Discarded = true
		if jumpOf(check.Look(&said, fit, check.Options{}).Changes, first.Team) == nil {
			t.Errorf("not asked again after %+v was taken back", mark)
		}
	}
	// No change up to the match before: what came before it still tells.
	var before record.MatchID
	for i := range ev.Matches {
		m := &ev.Matches[i]
		if slices.Contains(slices.Concat(m.Red.Teams, m.Blue.Teams), first.Team) && m.ID.Compare(first.Match) < 0 {
			before = m.ID
		}
	}
	said := *ev
	said.Marks = []record.Mark{{Team: first.Team, Match: before, Kind: record.MarkNoChange}}
	if j := jumpOf(check.Look(&said, fit, check.Options{}).Changes, first.Team); j == nil || j.Match != first.Match {
		t.Errorf("%+v after nothing had changed until %s; want as without: %+v", j, before, first)
	}
	if got := check.Look(ev, nil, check.Options{}).Changes; got == nil || len(got) != 0 {
		t.Errorf("without an estimate: %v, want none", got)
	}
}

// The numbers beside a change are those of the records before and after it.
func TestJumpSaysWhatChanged(t *testing.T) {
	t.Parallel()
	ev, _ := altered(t, 6100)
	told := 0
	for _, j := range check.Look(ev, estimate(t, ev), check.Options{}).Changes {
		a := slices.IndexFunc(ev.Game.Actions, func(a game.Action) bool { return a.ID == j.Action })
		if a < 0 || ev.Game.Actions[a].Kind != game.Count {
			continue
		}
		told++
		var low, high [2]float64 // of the counts before and after
		var n [2]int
		for i := range ev.Observations {
			o := &ev.Observations[i]
			made := o.Counts[j.Action].Made
			if o.Team != j.Team || made == nil || o.Absent {
				continue
			}
			half := 0
			if o.Match.Compare(j.Match) >= 0 {
				half = 1
			}
			if n[half]++; n[half] == 1 {
				low[half], high[half] = *made, *made
			}
			low[half], high[half] = min(low[half], *made), max(high[half], *made)
		}
		// Stops make a match shorter, so the mean of full matches may lie above.
		if j.Before < low[0] || j.Before > 2*high[0]+0.1 || j.After < low[1] || j.After > 2*high[1]+0.1 {
			t.Errorf("%+v, but counts are %v to %v", j, low, high)
		}
	}
	if told == 0 {
		t.Error("no change of a count to look at")
	}
}

// Robots of which nobody saw four matches since the last mark are not judged.
func TestJumpsNeedMatches(t *testing.T) {
	t.Parallel()
	ev, _ := altered(t, 6100)
	early := until(ev, 25)
	for _, j := range check.Jumps(early, estimate(t, early), check.Options{}) {
		n := 0
		for i := range early.Observations {
			if early.Observations[i].Team == j.Team {
				n++
			}
		}
		if n < 4 {
			t.Errorf("%s is judged by %d records", j.Team, n)
		}
	}
}

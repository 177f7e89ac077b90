package generate

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"sextant/stats/game"
	"sextant/stats/record"
)

// A robot that is altered is another from that match on and not before, and what
// the others do until then is the same.
func TestAltered(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := Defaults()
	opt.Mistakes, opt.Careless, opt.Watched, opt.Double = 0, 0, 1, 0
	plain, err := New(g, rand.New(rand.NewPCG(61, 0)), opt)
	if err != nil {
		t.Fatal(err)
	}
	opt.Altered = 0.5
	w, err := New(g, rand.New(rand.NewPCG(61, 0)), opt)
	if err != nil {
		t.Fatal(err)
	}
	truth := w.Truth(20)
	kinds := map[string]int{}
	observations := w.Event(w.Matches()).Observations
	for _, a := range truth.Altered {
		kinds[a.Kind]++
		var before, after int // matches in which the mechanism did anything
		for _, o := range observations {
			made := o.Counts[a.Action].Made
			if did := made != nil && *made > 0; o.Team != a.Team || !did {
				continue
			}
			if o.Match.Compare(a.Match) < 0 {
				before++
			} else {
				after++
			}
		}
		choice := slices.ContainsFunc(g.Actions, func(x game.Action) bool { return x.ID == a.Action && x.Kind == game.Choice })
		switch {
		case a.Kind == Slower && (a.Pace < slowest || a.Pace > hardly || a.Action != ""):
			t.Errorf("%+v", a)
		case a.Kind == Slower || choice:
		case a.Kind == Broken && (after > 0 || before == 0):
			t.Errorf("%+v: used in %d matches before and %d after", a, before, after)
		case a.Kind == Repaired && (before > 0 || after == 0):
			t.Errorf("%+v: used in %d matches before and %d after", a, before, after)
		}
		if a.Kind == Slower && a.Pace < 0.6 && a.After >= a.Before {
			t.Errorf("%+v: adds no less", a)
		}
	}
	for _, kind := range Alterations() {
		if kinds[kind] == 0 {
			t.Errorf("%d %s of %d", kinds[kind], kind, len(truth.Altered))
		}
	}
	first := slices.MinFunc(truth.Altered, func(a, b Alteration) int { return a.Match.Compare(b.Match) })
	repaired := func(m record.Match) bool { // is another from the start
		return slices.ContainsFunc(truth.Altered, func(a Alteration) bool {
			return a.Kind == Repaired && slices.Contains(slices.Concat(m.Red.Teams, m.Blue.Teams), a.Team)
		})
	}
	same := 0
	for i, m := range w.Schedule() {
		if m.ID.Compare(first.Match) >= 0 {
			break
		}
		if repaired(m) {
			continue
		}
		a, x := plain.Play(i)
		b, y := w.Play(i)
		if !reflect.DeepEqual(a, b) || !reflect.DeepEqual(x, y) {
			t.Errorf("%s differs, before anything was altered", m.ID)
		}
		same++
	}
	if same == 0 {
		t.Error("no match to compare")
	}
}

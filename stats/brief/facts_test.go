package brief_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	diff "github.com/google/go-cmp/cmp"

	"sextant/stats/brief"
	"sextant/stats/game"
	"sextant/stats/record"
)

func TestFacts(t *testing.T) {
	t.Parallel()
	w := invented(t, "saltern.json", file(t, "saltern.json"))
	m := &w.ev.Matches[5]
	a, b2, c := m.Red.Teams[0], m.Red.Teams[1], m.Red.Teams[2]
	ev := *w.ev
	ev.Observations = slices.DeleteFunc(slices.Clone(ev.Observations), func(o record.Observation) bool { return slices.Contains(m.Red.Teams, o.Team) })
	saw := func(n int, t record.TeamID, scout, start string, guard float64, change func(*record.Observation)) {
		o := record.Observation{
			Match: record.MatchID{Stage: record.Qualification, Number: n}, Team: t, Scout: scout,
			Answers: map[string]game.Answer{"berth": {Text: &start}, "guard": {Number: &guard}},
		}
		if change != nil {
			change(&o)
		}
		ev.Observations = append(ev.Observations, o)
	}
	saw(1, a, "s1", "right", 0, nil)
	saw(1, a, "s2", "left", 40, nil) // a second scout of the same match adds nothing
	saw(2, a, "s1", "right", 12, nil)
	saw(3, a, "s1", "right", 30, nil)
	saw(4, a, "s1", "left", 9, nil)
	saw(5, a, "s1", "left", 100, func(o *record.Observation) { o.Discarded = true })
	saw(6, a, "s1", "left", 100, func(o *record.Observation) { o.Absent = true })
	saw(7, b2, "s1", "left", 0, func(o *record.Observation) { delete(o.Answers, "guard") })
	saw(8, b2, "s1", "right", 0, func(o *record.Observation) { delete(o.Answers, "guard") })
	// c and a meet where c mostly starts, though a mostly starts elsewhere.
	saw(8, c, "s1", "right", 0, nil)
	for n := 9; n < 18; n++ {
		saw(n, c, "s1", "left", 0, nil)
	}
	b, err := brief.New(w.e, w.fit, &ev, &brief.Request{Match: m, Ours: record.Red, Runs: 100}, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		t.Fatal(err)
	}
	first := b.Red[0]
	if d := diff.Diff([]brief.Start{{Place: "right", Share: 0.75, Seen: 3}, {Place: "left", Share: 0.25, Seen: 1}}, first.Starts); d != "" {
		t.Error(d)
	}
	if d := diff.Diff(&brief.Defence{Seen: 4, Matches: 2, Seconds: 21}, first.Defence); d != "" {
		t.Error(d)
	}
	if b.Red[1].Defence != nil {
		t.Errorf("nobody asked, and yet: %+v", b.Red[1].Defence)
	}
	var starts []brief.Clash
	for _, x := range b.Clashes {
		if x.Kind == "start" {
			starts = append(starts, x)
		}
	}
	free := []string{"middle"}
	if d := diff.Diff([]brief.Clash{
		{Kind: "start", Teams: []record.TeamID{a, b2}, Place: "right", Chance: 0.375, Free: free},
		{Kind: "start", Teams: []record.TeamID{a, c}, Place: "left", Chance: 0.225, Free: free},
		{Kind: "start", Teams: []record.TeamID{b2, c}, Place: "left", Chance: 0.45, Free: free},
	}, starts); d != "" {
		t.Error(d)
	}
	// The estimate is what the robot's own screen says.
	i, _ := w.fit.Index(a)
	est := w.fit.Record().Teams[i]
	if first.Now != est.Now || first.NowSD != est.NowSD || first.Stops != est.Stops || len(first.Best) == 0 {
		t.Errorf("%+v, the estimate %+v", first, est)
	}
	for k, d := range first.Best {
		key := d.Action
		if d.Option != "" {
			key += ":" + d.Option
		}
		e := est.Actions[key]
		// 1.2816 is the 90 % quantile of the normal law, from tables.
		if d.Mean != e.Mean || math.Abs(d.High-d.Mean-1.2816*e.SD) > 1e-4 && d.High != 1 || d.Low < 0 {
			t.Errorf("%s: %+v, the estimate %+v", key, d, e)
		}
		if k > 0 && d.Points > first.Best[k-1].Points {
			t.Errorf("not in order of points: %+v", first.Best)
		}
	}
}

package brief_test

import (
	"math"
	"testing"

	"sextant/stats/brief"
	"sextant/stats/generate"
	"sextant/stats/record"
)

func TestReach(t *testing.T) {
	t.Parallel()
	w := invented(t, "slackwater.json", generate.Slackwater())
	best := w.byMean() // the others gain too few ranking points to tell much
	m := &record.Match{ID: record.MatchID{Stage: record.Qualification, Number: 99}, Red: record.Alliance{Teams: best[3:6]}, Blue: record.Alliance{Teams: best[:3]}}
	b := w.brief(t, &brief.Request{Match: m, Ours: record.Blue})
	told := 0
	if len(b.Reach) == 0 {
		t.Fatal("no ranking points")
	}
	for _, r := range b.Reach {
		p := b.Now.Forecast.RankingPoints[record.Blue][r.ID]
		if r.Chance == nil || *r.Chance != p || len(r.Needs) == 0 || r.Needs[0].Expected == nil || *r.Needs[0].Expected != b.Now.Blue.Components[r.Needs[0].Component] {
			t.Errorf("%s: %+v, the forecast says %v", r.ID, r, p)
		}
		if (r.WinWith == nil) != (p < 100.0/1500) && math.Abs(p-100.0/1500) > 0.03 {
			t.Errorf("%s: told from too few draws, or not told: %+v", r.ID, r)
		}
		if r.WinWith == nil || r.WinWithout == nil {
			continue
		}
		told++
		// The law of total probability, over other draws.
		all := b.Now.Forecast.Chance.Blue + b.Now.Forecast.Chance.Tie/2
		if got := p**r.WinWith + (1-p)**r.WinWithout; math.Abs(got-all) > 0.05 {
			t.Errorf("%s: %.3f in all, the forecast %.3f: %+v", r.ID, got, all, r)
		}
		if *r.WinWith <= *r.WinWithout {
			t.Errorf("%s: to gain it does not go with winning: %+v", r.ID, r)
		}
	}
	if told == 0 {
		t.Errorf("nothing told of winning: %+v", b.Reach)
	}
}

// A condition of alternatives is told as such, with values by name and what
// both alliances must do.
func TestNeeds(t *testing.T) {
	t.Parallel()
	w := invented(t, "stonefield.json", file(t, "stonefield.json"))
	b := w.brief(t, &brief.Request{Match: &w.ev.Matches[3], Ours: record.Red, Runs: 200})
	kinds := map[string]bool{}
	for _, r := range b.Reach {
		for _, n := range r.Needs {
			kinds["any"] = kinds["any"] || r.Any && n.Group > 0
			kinds["both"] = kinds["both"] || n.Both != ""
			kinds["at least"] = kinds["at least"] || n.AtLeast != nil && *n.AtLeast > 0
			if n.Component == "" && n.Both == "" {
				t.Errorf("%s: nothing needed: %+v", r.ID, n)
			}
		}
	}
	for _, k := range []string{"any", "both", "at least"} {
		if !kinds[k] {
			t.Errorf("no need of kind %q: %+v", k, b.Reach)
		}
	}
}

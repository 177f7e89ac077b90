package generate

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/game"
)

// TestJudge: asking twice gives the same and changes nothing else, nobody
// judges twice, and who is called best does more than who is called worst.
func TestJudge(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := Defaults()
	opt.Teams, opt.MatchesPerTeam, opt.Start = 24, 6, time.Unix(0, 0)
	w, err := New(g, rand.New(rand.NewPCG(5, 0)), opt)
	if err != nil {
		t.Fatal(err)
	}
	best, worst, none, n := 0, 0, 0, 0
	for i := range w.Matches() {
		before, seen := w.Play(i)
		got := w.Judge(i, "driving", 0.5)
		if diff := cmp.Diff(got, w.Judge(i, "driving", 0.5)); diff != "" {
			t.Fatalf("asked again:\n%s", diff)
		}
		after, again := w.Play(i)
		if diff := cmp.Diff(before, after) + cmp.Diff(seen, again); diff != "" {
			t.Fatalf("the match is another after asking:\n%s", diff)
		}
		p := w.run(source(w.seeds[i].play), i)
		deeds := map[string]int{}
		for k, slot := range w.meetings[i].slots {
			deeds[string(w.teams[slot].ID)] = len(p.robots[k].deeds)
		}
		who := map[string]bool{}
		for _, j := range got {
			n++
			if who[j.Scout] || len(j.Teams) != 6 {
				t.Errorf("%+v", j)
			}
			who[j.Scout] = true
			if j.Best == "" {
				none++
			}
			best += deeds[string(j.Best)]
			worst += deeds[string(j.Worst)]
		}
	}
	if n < 20 || none == n || best <= 2*worst {
		t.Errorf("%d judgements, %d without a difference, deeds of the best %d, of the worst %d", n, none, best, worst)
	}
	if got := w.Judge(0, "start", 1); got != nil {
		t.Errorf("a question about one robot is judged: %+v", got)
	}
}

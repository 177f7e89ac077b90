package contrib

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sextant/stats/game"
	"sextant/stats/record"
)

// scored is an event of totals with a component beside each.
func scored(n, matches int, component func(score float64) map[string]float64) *record.Event {
	rng := rand.New(rand.NewPCG(1, 9))
	ev := &record.Event{Game: &game.Game{Alliance: game.AllianceSize{Robots: 3}, Components: []game.Component{{ID: "part"}, {ID: "never"}}}}
	var skill []float64
	for i := range n {
		ev.Teams = append(ev.Teams, record.Team{ID: record.TeamID(rune('A' + i))})
		skill = append(skill, 20+8*rng.NormFloat64())
	}
	for k := range matches {
		m := record.Match{ID: record.MatchID{Stage: record.Qualification, Number: k + 1}, Play: 1}
		order := rng.Perm(n)
		for s, a := range []*record.Alliance{&m.Red, &m.Blue} {
			score := 10 * rng.NormFloat64()
			for _, i := range order[3*s : 3*s+3] {
				a.Teams = append(a.Teams, ev.Teams[i].ID)
				score += skill[i]
			}
			a.Result = &record.Result{Score: score, Components: component(score)}
		}
		ev.Matches = append(ev.Matches, m)
	}
	return ev
}

// A component that is half the score is half the mixed model's robots, and goes
// up half a point with each point; one that was never published is not told.
func TestPartOfTheScore(t *testing.T) {
	t.Parallel()
	ev := scored(12, 40, func(score float64) map[string]float64 { return map[string]float64{"part": score / 2} })
	fit, err := Estimate(ev, Options{})
	if err != nil {
		t.Fatal(err)
	}
	mixed, err := NewBaseline(ev, EstimatorMixed)
	if err != nil {
		t.Fatal(err)
	}
	p := fit.Parts()[0]
	for i := range p.Mean {
		if math.Abs(p.Mean[i]-mixed.Mean(i)/2) > 1e-6 {
			t.Errorf("robot %d: %v, want half of %v", i, p.Mean[i], mixed.Mean(i))
		}
	}
	want := mixed.MatchVariance(0, 1, 2)
	for _, i := range []int{0, 1, 2} {
		for _, j := range []int{0, 1, 2} {
			want += mixed.Cov(i, j)
		}
	}
	if got := p.Variance(0, 1, 2); math.Abs(got/(want/4)-1) > 1e-6 {
		t.Errorf("variance %v, want a quarter of %v", got, want)
	}
	if p.WithScore > 0.5 || p.WithScore < 0.4 {
		t.Errorf("goes up %v a point, want a little less than a half", p.WithScore)
	}
	if fit.Parts()[1] != nil {
		t.Error("a component that nobody published is told")
	}
}

// Steps stay steps, as often as they were seen; few values tell no shape.
func TestPartShaped(t *testing.T) {
	t.Parallel()
	seen := slices.Concat(slices.Repeat([]float64{0}, 30), slices.Repeat([]float64{20}, 10))
	p := &Part{seen: seen, middle: 5, spread: 8.77}
	rng := rand.New(rand.NewPCG(2, 2))
	var high float64
	const n = 20000
	for range n {
		switch p.Shaped(5 + 8.77*rng.NormFloat64()) {
		case 20:
			high++
		}
	}
	if math.Abs(high/n-0.25) > 0.03 {
		t.Errorf("20 in %v of draws, it was seen in a quarter", high/n)
	}
	if got := p.Shaped(60); got != 60 {
		t.Errorf("far beyond what was seen: %v, want 60", got)
	}
	if got := (&Part{seen: seen[25:35], middle: 10, spread: 10}).Shaped(3); got != 3 {
		t.Errorf("with ten values seen: %v, want 3", got)
	}
}

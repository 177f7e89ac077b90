package contrib

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sextant/stats/contrib/contribtest"
	"sextant/stats/game"
	"sextant/stats/record"
)

func TestShrink(t *testing.T) {
	t.Parallel()
	t.Run("Nobody", func(t *testing.T) {
		if _, ok := shrink([][]float64{nil, nil}); ok {
			t.Error("no value gives an estimate")
		}
	})
	t.Run("PullsTheLittleSeen", func(t *testing.T) {
		s, ok := shrink([][]float64{{8}, {8, 8, 8, 8, 8, 8, 8, 8}, {2, 2, 2, 2, 2, 2, 2, 2}, nil})
		if !ok {
			t.Fatal("no estimate")
		}
		once, often, few, never := s.mean[0], s.mean[1], s.mean[2], s.mean[3]
		if !(once < often && often < 8 && few > 2 && never > few && never < once) {
			t.Errorf("means %v", s.mean)
		}
		if !(s.variance[1] < s.variance[0] && s.variance[0] < s.variance[3]) {
			t.Errorf("variances %v: the less was seen, the wider", s.variance)
		}
	})
	t.Run("Zeros", func(t *testing.T) {
		s, ok := shrink([][]float64{{0, 0}, {0}})
		if !ok || s.mean[0] != 0 || math.IsNaN(s.variance[0]) {
			t.Errorf("%+v", s)
		}
	})
	// Against the truth: nearer to it than plain means, and covered.
	t.Run("Recovers", func(t *testing.T) {
		rng := rand.New(rand.NewPCG(3, 3))
		var plain, shrunk, covered, n float64
		for range 30 {
			var values [][]float64
			var truth []float64
			for range 40 {
				m := math.Max(0, 5+2*rng.NormFloat64())
				var vs []float64
				for range 1 + rng.IntN(5) {
					vs = append(vs, m+2.5*rng.NormFloat64())
				}
				values, truth = append(values, vs), append(truth, m)
			}
			s, _ := shrink(values)
			for r, vs := range values {
				plain += square(addUp(vs)/float64(len(vs)) - truth[r])
				shrunk += square(s.mean[r] - truth[r])
				n++
				if math.Abs(s.mean[r]-truth[r]) < 1.2816*math.Sqrt(s.variance[r]) {
					covered++
				}
			}
		}
		if shrunk > 0.8*plain {
			t.Errorf("squared error %.1f, of plain means %.1f", shrunk, plain)
		}
		if c := covered / n; c < 0.75 || c > 0.85 {
			t.Errorf("80 %% intervals cover %.3f of %v", c, n)
		}
	})
}

// What was not seen is missing from the means, not a zero in them.
func TestActions(t *testing.T) {
	t.Parallel()
	ev := &record.Event{Game: contribtest.Game(), Teams: []record.Team{{ID: "1"}, {ID: "2"}}}
	for m := 1; m <= 10; m++ {
		full, other := observed(m, "1", number(6), number(2), "on"), observed(m, "1", number(8), nil, "")
		other.Scout = "s02" // two scouts count as their mean
		if m > 5 {
			full.Counts, other.Counts = map[string]record.Tally{}, map[string]record.Tally{}
		}
		ev.Observations = append(ev.Observations, full, other)
	}
	absent := observed(11, "1", number(0), number(0), "none")
	absent.Absent = true
	gone := observed(12, "1", number(0), number(0), "none")
	gone.Discarded = true
	ev.Observations = append(ev.Observations, absent, gone)
	a := newEvidence(ev).actions()
	if got := a[0]["high"].Mean; math.Abs(got-7) > 1e-9 {
		t.Errorf("high %v, want 7", got)
	}
	if got := a[0]["park:on"].Mean; math.Abs(got-1) > 1e-9 {
		t.Errorf("park:on %v, want 1", got)
	}
	if _, ok := a[0]["park"]; ok {
		t.Error("a choice stands by option")
	}
	if a[1]["high"].SD <= a[0]["high"].SD {
		t.Errorf("never watched ± %v, watched ± %v", a[1]["high"].SD, a[0]["high"].SD)
	}

	t.Run("HandedOn", func(t *testing.T) {
		seen := newEvidence(ev).actions()[1]["high"].Mean
		first, second := observed(8, "2", number(seen-2), number(0), "none"), observed(8, "2", number(2), number(0), "none")
		second.Scout, first.To, second.From = "other", new(int), new(int)
		*first.To, *second.From = 60_000, 61_000
		with := *ev
		with.Observations = append(slices.Clone(ev.Observations), first)
		if got := newEvidence(&with).actions()[1]["high"].Mean; math.Abs(got-seen) > 1e-9 {
			t.Errorf("a half that was watched is no match, but %v became %v", seen, got)
		}
		with.Observations = append(with.Observations, second)
		if got := newEvidence(&with).actions()[1]["high"].Mean; math.Abs(got-seen) > 1e-9 {
			t.Errorf("both halves add up to one match as the others, but %v became %v", seen, got)
		}
	})

	t.Run("LostSight", func(t *testing.T) {
		g := contribtest.Game()
		g.Questions = append(g.Questions, game.Question{ID: "lost", Kind: "flag", When: "match", Role: game.RoleLostSight})
		ev.Game = g
		lost := true
		o := observed(9, "2", number(0), number(0), "none")
		o.Answers = map[string]game.Answer{"lost": {Flag: &lost}}
		ev.Observations = append(ev.Observations, o)
		if got := newEvidence(ev).actions()[1]["high"].Mean; math.Abs(got-7) > 1e-9 {
			t.Errorf("the counts of a scout who lost sight are too low, but gave %v", got)
		}
	})
}

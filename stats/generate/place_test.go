package generate

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/record"
)

// TestPlacesChangeNothingElse: a game file without a drawing gives the same
// event to the last tap, only that no tap says where it was.
func TestPlacesChangeNothingElse(t *testing.T) {
	t.Parallel()
	for id, g := range games(t) {
		timeline := func(o *Options) { small(o); o.Timeline = true }
		bare := *g
		bare.Field = nil
		got, want := world(t, g, 3, timeline).Event(64), world(t, &bare, 3, timeline).Event(64)
		taps, shown := 0, 0
		for i := range got.Observations {
			o := &got.Observations[i]
			o.Taps = slices.Clone(o.Taps)
			for k := range o.Taps {
				tap := &o.Taps[k]
				taps++
				if tap.HasXY {
					shown++
				}
				*tap = record.Tap{MS: tap.MS, Action: tap.Action, Step: tap.Step}
			}
		}
		if diff := cmp.Diff([]any{want.Matches, want.Observations}, []any{got.Matches, got.Observations}, cmp.AllowUnexported(record.MatchID{})); diff != "" {
			t.Errorf("%s: with places the event is another: %s", id, diff)
		}
		if part := float64(shown) / float64(taps); g.Field == nil && shown > 0 || g.Field != nil && math.Abs(part-placed) > 0.03 {
			t.Errorf("%s: %d of %d taps say where they were, drawing: %t", id, shown, taps, g.Field != nil)
		}
	}
}

// TestPlacesLieWhereTheDrawingSays: Slackwater's drawing has the decks at
// opposite ends, so each alliance's barrels on deck lie around its own; a robot
// keeps to its spot, and others have theirs.
func TestPlacesLieWhereTheDrawingSays(t *testing.T) {
	t.Parallel()
	g := slackwater(t)
	ev := world(t, g, 5, func(o *Options) { o.Timeline = true }).Event(60)
	sides := map[record.MatchID]record.Alliance{}
	for _, m := range ev.Matches {
		sides[m.ID] = m.Red
	}
	deck := [2][2]float64{{5.6, 1.15}, {10.8, 7.05}} // middles of red's and blue's deck in the game file
	var own, other, n float64
	spots := map[record.TeamID][]float64{} // distances along the field from the own deck, by robot
	for _, o := range ev.Observations {
		red := slices.Contains(sides[o.Match].Teams, o.Team)
		for _, tap := range o.Taps {
			if !tap.HasXY {
				continue
			}
			if tap.X < 0 || tap.X > g.Field.LengthM || tap.Y < 0 || tap.Y > g.Field.WidthM {
				t.Fatalf("%s of %s in %s at (%g, %g), which is off the field", tap.Action, o.Team, o.Match, tap.X, tap.Y)
			}
			if tap.Action != "deck" && tap.Action != "deck_missed" {
				continue
			}
			mine, theirs, sign := deck[0], deck[1], 1.0
			if !red {
				mine, theirs, sign = deck[1], deck[0], -1
			}
			n++
			own += math.Hypot(tap.X-mine[0], tap.Y-mine[1])
			other += math.Hypot(tap.X-theirs[0], tap.Y-theirs[1])
			spots[o.Team] = append(spots[o.Team], sign*(tap.X-mine[0]))
		}
	}
	// Half of a deck's 2.4 m, 0.5 to 2.5 m, and what robot and finger stray.
	if own/n < 1.5 || own/n > 4 || other/n < 4.5 {
		t.Errorf("barrels on deck lie %.1f m from the own deck and %.1f m from the other one", own/n, other/n)
	}
	var within, all []float64
	for _, xs := range spots {
		mean := 0.0
		for _, x := range xs {
			mean += x / float64(len(xs))
		}
		all = append(all, mean)
		for _, x := range xs {
			within = append(within, x-mean)
		}
	}
	if sd(within) > 0.8 || sd(all) < sd(within)/2 {
		t.Errorf("along the field a robot strays by %.2f m, robots differ by %.2f m", sd(within), sd(all))
	}
}

func sd(xs []float64) float64 {
	var sum, squares float64
	for _, x := range xs {
		sum, squares = sum+x, squares+x*x
	}
	n := float64(len(xs))
	return math.Sqrt(squares/n - sum*sum/n/n)
}

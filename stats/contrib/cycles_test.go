package contrib_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"sextant/stats/contrib"
	"sextant/stats/contrib/contribtest"
)

// In a world that neither the model nor the event generator knows, points lie
// nearer to the truth than those of least squares and of raw averages. The
// limits are the figures of these events with a tenth to spare, so that a
// change that suits one generator alone is seen.
func TestPointsInAnotherWorld(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name                      string
		watched                   float64
		leastSquares, rawAverages float64 // at most so much of their error
	}{{"NearlyAllWatched", 0.9, 0.60, 1.0}, {"HalfWatched", 0.5, 0.68, 0.95}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var fused, plain, raw float64
			for seed := range uint64(3) {
				w := contribtest.NewCycles(rand.New(rand.NewPCG(900+seed, 5)), contribtest.CyclesOptions{Robots: 48, Matches: 96, Watched: c.watched, Runs: 40})
				fit, err := contrib.Estimate(w.Event, contrib.Options{})
				if err != nil {
					t.Fatal(err)
				}
				var points []float64
				for _, r := range fit.Record().Teams {
					points = append(points, r.Points)
				}
				fused += centredSquare(points, w.Points)
				for name, sum := range map[string]*float64{contrib.EstimatorLeastSquares: &plain, contrib.EstimatorAverages: &raw} {
					b, err := contrib.NewBaseline(w.Event, name)
					if err != nil {
						t.Fatal(err)
					}
					points = points[:0]
					for i := range w.Points {
						points = append(points, b.Mean(i))
					}
					*sum += centredSquare(points, w.Points)
				}
			}
			if r := math.Sqrt(fused / plain); r > c.leastSquares {
				t.Errorf("error %.3f of that of least squares, at most %v", r, c.leastSquares)
			}
			if r := math.Sqrt(fused / raw); r > c.rawAverages {
				t.Errorf("error %.3f of that of raw averages, at most %v", r, c.rawAverages)
			}
		})
	}
}

// centredSquare is the mean square of a − b, their means taken off.
func centredSquare(a, b []float64) float64 {
	n := float64(len(a))
	var off, s float64
	for i := range a {
		off += (a[i] - b[i]) / n
	}
	for i := range a {
		s += math.Pow(a[i]-b[i]-off, 2) / n
	}
	return s
}

// What scouts saw of the actions adds up to the points, up to what scouts miss:
// the robots' sums of mean times points lie around points by no more than both
// are uncertain, and in all within a few in a hundred.
func TestActionsAddUpToPoints(t *testing.T) {
	t.Parallel()
	w := contribtest.New(rand.New(rand.NewPCG(41, 7)), contribtest.Options{Robots: 36, Matches: 72, Watched: 1, Stops: true})
	fit, err := contrib.Estimate(w.Event, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var all, sum, z2 float64
	teams := fit.Record().Teams
	for _, r := range teams {
		var points, variance float64
		add := func(id string, worth float64) {
			a := r.Actions[id]
			points += worth * a.Mean
			variance += math.Pow(worth*a.SD, 2)
		}
		for _, a := range w.Event.Game.Actions {
			if len(a.Options) == 0 {
				add(a.ID, a.Points)
			}
			for _, o := range a.Options {
				add(a.ID+":"+o.ID, o.Points)
			}
		}
		all += r.Points
		sum += points
		z2 += math.Pow(points-r.Points, 2) / (variance + r.SD*r.SD) / float64(len(teams))
	}
	if r := sum / all; r < 0.95 || r > 1.05 {
		t.Errorf("actions add up to %.3f of points", r)
	}
	if z2 > 0.1 { // the same matches tell both, so they lie nearer than two guesses would
		t.Errorf("actions lie %.2f standard deviations off points", math.Sqrt(z2))
	}
}

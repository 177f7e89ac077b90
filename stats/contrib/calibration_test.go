package contrib

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Simulation-based calibration (Talts, Betancourt, Simpson, Vehtari, Gelman
// 2018, arXiv 1804.06788): data drawn from the model with the variance
// components held at the values that drew them; then Φ((truth − mean)/sd) is
// uniform, for a robot and for the difference of two, with records and without.
func TestSimulationBasedCalibration(t *testing.T) {
	t.Parallel()
	const (
		robots, matches = 18, 24
		replications    = 400
		bins            = 10
		limit           = 27.88 // χ², 9 degrees of freedom, 99.9 %
	)
	c := Components{Robot: 8, Match: 16, Record: 4, Rest: 5, Shared: -0.2}
	for _, watched := range []float64{0, 0.5, 1} {
		t.Run(fmt.Sprintf("Watched%.0f", 100*watched), func(t *testing.T) {
			t.Parallel()
			rng := rand.New(rand.NewPCG(uint64(100*watched), 99))
			var single, difference [bins]float64
			for range replications {
				ev, truth := drawFromModel(rng, c, robots, matches, watched)
				e := newEvidence(ev)
				x := &exposure{mean: make([]float64, robots), meanVar: make([]float64, robots), stops: make([]float64, robots)}
				for i := range x.mean {
					x.mean[i] = 1
				}
				for i := range e.sides {
					x.w = append(x.w, []float64{1, 1, 1}[:len(e.sides[i].robots)])
				}
				f, err := fuse(e, x, nil, &c)
				if err != nil {
					t.Fatal(err)
				}
				pit := func(off, variance float64) int {
					return min(bins-1, int(bins*math.Erfc(-off/math.Sqrt(2*variance))/2))
				}
				i, j := rng.IntN(robots), rng.IntN(robots-1)
				if j >= i {
					j++
				}
				single[pit(truth[i]-f.now[i], f.nowCov.At(i, i))]++
				difference[pit(truth[i]-truth[j]-f.now[i]+f.now[j], f.nowCov.At(i, i)+f.nowCov.At(j, j)-2*f.nowCov.At(i, j))]++
			}
			for what, counts := range map[string][bins]float64{"a robot": single, "the difference of two": difference} {
				chi := 0.0
				for _, n := range counts {
					chi += square(n-replications/bins) / (replications / bins)
				}
				if chi > limit {
					t.Errorf("%s: χ² = %.1f on %d bins: %v", what, chi, bins, counts)
				}
			}
		})
	}
}

// drawFromModel draws robots, alliance totals and records exactly as fusion.go
// says, with a level of 20 points a robot.
func drawFromModel(rng *rand.Rand, c Components, robots, matches int, watched float64) (*record.Event, []float64) {
	const level = 20
	ev := &record.Event{Game: &game.Game{
		Alliance: game.AllianceSize{Robots: 3}, Periods: []game.Period{{ID: "all", Seconds: 150}},
		Actions: []game.Action{{ID: "ball", Kind: game.Count, Points: 1}},
	}}
	truth := make([]float64, robots)
	for i := range truth {
		truth[i] = level + c.Robot*rng.NormFloat64()
		ev.Teams = append(ev.Teams, record.Team{ID: record.TeamID(fmt.Sprint(i + 1))})
	}
	offset := priorOffsetSD * level * rng.NormFloat64()
	luck := c.luck(3)
	cov := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := range i + 1 {
			cov.SetSym(i, j, luck*c.Shared)
		}
		cov.SetSym(i, i, luck)
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		panic("the luck of three robots has no such correlation")
	}
	var lower mat.TriDense
	chol.LTo(&lower)
	for n := 1; n <= matches; n++ {
		m := record.Match{ID: record.MatchID{Stage: record.Qualification, Number: n}, Play: 1}
		places := rng.Perm(robots)[:6]
		for side, a := range []*record.Alliance{&m.Red, &m.Blue} {
			z := mat.NewVecDense(3, []float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()})
			var e mat.VecDense
			e.MulVec(&lower, z)
			own := c.Rest * rng.NormFloat64()
			for k, r := range places[3*side : 3*side+3] {
				p := truth[r] + e.AtVec(k)
				own += p
				a.Teams = append(a.Teams, ev.Teams[r].ID)
				if rng.Float64() < watched {
					seen := p - offset + c.Record*rng.NormFloat64()
					ev.Observations = append(ev.Observations, record.Observation{
						Match: m.ID, Play: 1, Team: ev.Teams[r].ID, Scout: "s01", Counts: map[string]record.Tally{"ball": {Made: &seen}},
					})
				}
			}
			a.Result = &record.Result{Score: own}
		}
		ev.Matches = append(ev.Matches, m)
	}
	return ev, truth
}

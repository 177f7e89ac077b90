package rota

import (
	"math"
	"math/rand/v2"
	"testing"
)

// On small cases the plan is as good as the best of all plans, or nearly: every
// way to sit is gone through, breaks and all. Of each kind the share of cases in
// which the best was found, and of the others how much of the gain is missing at
// most, stand here as measured, with some room.
func TestPlanAgainstAll(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		cases                         int
		robots, matches, size, people int
		change                        func(*Request, *rand.Rand)
		best, missing                 float64
	}{
		"Places": {60, 6, 3, 2, 2, func(r *Request, _ *rand.Rand) { r.Row, r.Rest, r.Before, r.Seats = 0, 0, nil, 2 }, 0.9, 0.02},
		"Breaks": {60, 4, 5, 1, 2, func(r *Request, rng *rand.Rand) {
			r.Row, r.Rest, r.Seats = 1+rng.IntN(3), 1+rng.IntN(2), 1+rng.IntN(2)
		}, 0.75, 0.2},
		"Twice": {60, 5, 2, 2, 3, func(r *Request, _ *rand.Rand) {
			r.Row, r.Rest, r.Before, r.Seats, r.Weights.Twice = 0, 0, nil, 3, 0.3
		}, 0.8, 0.12},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			best, worst := 0, 0.0
			for n := range c.cases {
				rng := rand.New(rand.NewPCG(12, uint64(n)))
				req := invent(rng, c.robots, c.matches, c.size, c.people)
				c.change(req, rng)
				got, err := Plan(req)
				if err != nil {
					t.Fatal(err)
				}
				least := all(t, req)
				switch gain := (got.Nobody.Total() - got.Loss.Total()) / (got.Nobody.Total() - least); {
				case got.Loss.Total() < least-1e-9:
					t.Errorf("case %d: %g is less than the least of all, %g", n, got.Loss.Total(), least)
				case got.Loss.Total() < least+1e-9:
					best++
				default:
					worst = max(worst, 1-gain)
				}
			}
			t.Logf("%d of %d are the best of all; of the others at most %.2g of the gain is missing", best, c.cases, worst)
			if float64(best) < c.best*float64(c.cases) || worst > c.missing {
				t.Errorf("%d of %d are the best of all; of the others up to %g of the gain is missing", best, c.cases, worst)
			}
		})
	}
}

// all goes through every plan that holds the constraints, whoever sits when, and
// gives the least loss.
func all(t *testing.T, req *Request) float64 {
	t.Helper()
	p, err := newPlanner(req)
	if err != nil {
		t.Fatal(err)
	}
	n := len(req.People)
	at := p.begin()
	least := math.Inf(1)
	var walk func(m, i, sitting int)
	walk = func(m, i, sitting int) {
		switch {
		case m == len(p.matches):
			least = min(least, p.loss().Total())
			return
		case i == n:
			walk(m+1, 0, 0)
			return
		}
		was := at[i]
		at[i], _ = req.after(was, false)
		walk(m, i+1, sitting)
		if on, may := req.after(was, true); may && sitting < req.Seats && req.People[i].on(p.matches[m].id) {
			at[i] = on
			for place, r := range p.matches[m].robots {
				if r != p.forbid[i] {
					p.watch[m][i] = place
					walk(m, i+1, sitting+1)
				}
			}
			p.watch[m][i] = nobody
		}
		at[i] = was
	}
	walk(0, 0, 0)
	return least
}

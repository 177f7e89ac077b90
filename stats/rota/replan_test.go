package rota

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"sextant/stats/record"
)

// What is on its way stays when a plan is made anew because somebody is missing.
func TestKeptStay(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(13, 1))
	req := invent(rng, 18, 12, 3, 4)
	req.Row, req.Rest, req.Seats, req.Before = 0, 0, 6, nil
	for i := range req.People {
		req.People[i].Shifts = nil
	}
	first, err := Plan(req)
	if err != nil {
		t.Fatal(err)
	}
	gone := req.People[1].Scout
	req.People = slices.Delete(slices.Clone(req.People), 1, 2)
	for _, s := range first.Seats {
		if s.Match.Number <= 3 {
			req.Kept = append(req.Kept, s)
		}
	}
	for i := range req.Robots { // other things are worth a look now
		req.Robots[i].List = 1 - req.Robots[i].List
	}
	again, err := Plan(req)
	if err != nil {
		t.Fatal(err)
	}
	changed := 0
	for _, s := range first.Seats {
		stays := slices.ContainsFunc(again.Seats, func(o record.SeatBody) bool { return o.Match == s.Match && o.Scout == s.Scout && o.Team == s.Team })
		switch {
		case s.Scout == gone && stays:
			t.Errorf("%s is gone and sits in %s", gone, s.Match)
		case s.Scout != gone && s.Match.Number <= 3 && !stays:
			t.Errorf("%s in %s does not stay at %s", s.Scout, s.Match, s.Team)
		case s.Scout != gone && !stays:
			changed++
		}
	}
	if changed == 0 {
		t.Error("nothing ahead was planned anew")
	}
}

// A plan that is made anew in the middle of the day goes on from what was: only
// matches ahead get seats, what was kept stays to the seat, and the matches
// before and after hold every constraint together, rows and breaks across the
// cut too. In every second case somebody is gone.
func TestAnewHolds(t *testing.T) {
	t.Parallel()
	gone, breaks, changed := 0, 0, 0
	for n := range 25 {
		rng := rand.New(rand.NewPCG(17, uint64(n)))
		whole := invent(rng, 12+rng.IntN(8), 10+rng.IntN(12), 2, 2+rng.IntN(6))
		first, err := Plan(whole)
		if err != nil {
			t.Fatal(err)
		}
		anew, cut, keep := *whole, 1+rng.IntN(len(whole.Matches)-2), rng.IntN(9)
		anew.Matches = whole.Matches[cut:]
		anew.People = slices.Clone(whole.People)
		if n%2 == 1 {
			anew.People = slices.Delete(anew.People, 0, 1)
			gone++
		}
		anew.Robots = slices.Clone(whole.Robots)
		for i := range anew.Robots {
			anew.Robots[i].Var *= 0.2 + rng.Float64()
		}
		var together Result
		for m := range cut {
			there := map[string]bool{}
			for _, s := range first.Seats {
				if s.Match == whole.Matches[m].ID {
					there[s.Scout] = true
					together.Seats = append(together.Seats, s)
				}
			}
			anew.Before = append(slices.Clone(anew.Before), there)
		}
		for _, s := range first.Seats {
			for m := range min(keep, len(anew.Matches)) {
				if s.Match == anew.Matches[m].ID {
					anew.Kept = append(anew.Kept, s)
				}
			}
		}
		second, err := Plan(&anew)
		if err != nil {
			t.Fatal(err)
		}
		name := fmt.Sprintf("case %d, anew from match %d of %d", n, cut+1, len(whole.Matches))
		for _, s := range second.Seats {
			if s.Match.Compare(anew.Matches[0].ID) < 0 {
				t.Errorf("%s: %s is sent to %s, which was played", name, s.Scout, s.Match)
			}
			if !among(first.Seats, s) {
				changed++
			}
		}
		for _, s := range anew.Kept {
			left := !slices.ContainsFunc(anew.People, func(p Person) bool { return p.Scout == s.Scout })
			if among(second.Seats, s) == left {
				t.Errorf("%s: %s at %s in %s; gone: %t", name, s.Scout, s.Team, s.Match, left)
			}
		}
		together.Seats = append(together.Seats, second.Seats...)
		holds(t, whole, &together, name)
		breaks += min(whole.Row, 1)
	}
	if gone < 10 || breaks < 5 || changed < 100 {
		t.Errorf("the cases say too little: %d with somebody gone, %d with breaks, %d seats changed", gone, breaks, changed)
	}
}

// among: somebody sits there already.
func among(seats []record.SeatBody, s record.SeatBody) bool {
	return slices.ContainsFunc(seats, func(o record.SeatBody) bool {
		return o.Match == s.Match && o.Scout == s.Scout && o.Team == s.Team
	})
}

// Two watch one robot only where that is the best for the plan: nobody of them
// learns more at a robot of the match that is free.
func TestTwiceOnPurpose(t *testing.T) {
	t.Parallel()
	doubled := 0
	for n := range 25 {
		rng := rand.New(rand.NewPCG(18, uint64(n)))
		req := invent(rng, 12+rng.IntN(8), 8+rng.IntN(8), 2+rng.IntN(2), 2+rng.IntN(6))
		req.Weights.Twice = []float64{0, 0.005, 0.1}[n%3]
		p, err := newPlanner(req)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Plan(req)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range got.Seats {
			m, person := p.find(s.Match, s.Scout)
			p.watch[m][person] = slices.IndexFunc(p.matches[m].robots, func(r int) bool { return p.robots[r].Team == s.Team })
		}
		least := p.loss().Total()
		for m := range p.matches {
			for i, place := range p.watch[m] {
				if place == nobody || count(slices.Contains(p.watch[m][:i], place))+count(slices.Contains(p.watch[m][i+1:], place)) == 0 {
					continue
				}
				doubled++
				for free, r := range p.matches[m].robots {
					if slices.Contains(p.watch[m], free) || r == p.forbid[i] {
						continue
					}
					p.watch[m][i] = free
					if l := p.loss().Total(); l < least-1e-9 {
						t.Errorf("case %d: %s would leave %g less open at %s of %s than as one of two at %s", n,
							req.People[i].Scout, least-l, p.robots[r].Team, p.matches[m].id, p.robots[p.matches[m].robots[place]].Team)
					}
					p.watch[m][i] = place
				}
			}
		}
	}
	if doubled < 20 {
		t.Errorf("only %d seats of two at one robot: the cases say too little", doubled)
	}
}

// Where all robots are alike and pairs count nothing, each of up to two scouts an
// alliance has a robot alone (of the third the total tells); where pairs count
// much, all watch together in turn.
func TestOneRobotOneScout(t *testing.T) {
	t.Parallel()
	for n := range 10 {
		rng := rand.New(rand.NewPCG(19, uint64(n)))
		req := invent(rng, 12, 8, 3, 2+rng.IntN(3))
		req.Seats, req.Row, req.Rest, req.Before = 6, 0, 0, nil
		for i := range req.Robots {
			req.Robots[i] = Robot{Team: req.Robots[i].Team, Var: 30, Luck: 20, List: 1}
		}
		for i := range req.People {
			req.People[i].Not, req.People[i].Shifts = "", nil
		}
		pairs := func(twice float64) (n int) {
			req.Weights = Weights{List: 1, Twice: twice}
			got, err := Plan(req)
			if err != nil {
				t.Fatal(err)
			}
			for i, a := range got.Seats {
				for _, b := range got.Seats[:i] {
					n += count(a.Match == b.Match && a.Team == b.Team)
				}
			}
			return n
		}
		if n := pairs(0); n != 0 {
			t.Errorf("%d people: %d times two at one robot, and nothing is gained by it", len(req.People), n)
		}
		if n := pairs(10); n < len(req.People)*(len(req.People)-1)/2 {
			t.Errorf("%d people: %d times two at one robot, though pairs count most", len(req.People), n)
		}
	}
}

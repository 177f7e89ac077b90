package rota

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"sextant/stats/record"
)

func match(n int, red, blue []record.TeamID) record.Match {
	return record.Match{
		ID: record.MatchID{Stage: record.Qualification, Number: n}, Play: 1,
		Red: record.Alliance{Teams: red}, Blue: record.Alliance{Teams: blue},
	}
}

// invent makes a request of chance: size robots an alliance.
func invent(rng *rand.Rand, robots, matches, size, people int) *Request {
	req := &Request{Our: "1", Seats: 1 + rng.IntN(6), Weights: DefaultWeights()}
	for t := range robots {
		req.Robots = append(req.Robots, Robot{
			Team: record.TeamID(fmt.Sprint(t + 1)), Var: 4 + 60*rng.Float64(), Luck: 5 + 40*rng.Float64(), Walk: rng.Float64(),
			Seen: rng.IntN(4), List: rng.Float64(), Asked: rng.Float64() < 0.1,
		})
	}
	for m := range matches {
		var teams []record.TeamID
		for _, t := range rng.Perm(robots)[:2*size] {
			teams = append(teams, req.Robots[t].Team)
		}
		req.Matches = append(req.Matches, match(m+1, teams[:size], teams[size:]))
	}
	for i := range people {
		p := Person{Scout: fmt.Sprintf("s%02d", i+1)}
		if rng.IntN(3) == 0 {
			p.Not = req.Robots[rng.IntN(robots)].Team
		}
		for at := 1; rng.IntN(2) == 0 && at < matches; {
			to := at + rng.IntN(matches)
			p.Shifts = append(p.Shifts, record.RotaShift{From: record.MatchID{Stage: record.Qualification, Number: at}, To: record.MatchID{Stage: record.Qualification, Number: to}})
			at = to + 2
		}
		req.People = append(req.People, p)
	}
	if rng.IntN(2) == 0 {
		req.Row, req.Rest = 1+rng.IntN(6), 1+rng.IntN(3)
	}
	for range rng.IntN(3) * req.Row {
		there := map[string]bool{}
		for _, p := range req.People {
			there[p.Scout] = rng.IntN(3) > 0
		}
		req.Before = append(req.Before, there)
	}
	return req
}

// Whatever is asked for, nobody sits outside a shift, in two places, before a
// robot that is not theirs to watch, for too long, or where there is no seat; a
// seat that is to be kept against all that, or at a match that is not planned,
// changes nothing in it.
func TestConstraintsHold(t *testing.T) {
	t.Parallel()
	for n := range 25 {
		rng := rand.New(rand.NewPCG(11, uint64(n)))
		req := invent(rng, 12+rng.IntN(10), 10+rng.IntN(14), 2+rng.IntN(2), 1+rng.IntN(9))
		if n%2 == 1 {
			for range 2 * len(req.Matches) {
				req.Kept = append(req.Kept, record.SeatBody{
					Match: record.MatchID{Stage: record.Qualification, Number: 1 + rng.IntN(len(req.Matches)+3)},
					Scout: fmt.Sprintf("s%02d", 1+rng.IntN(len(req.People)+1)), Team: req.Robots[rng.IntN(len(req.Robots))].Team,
				})
			}
		}
		got, err := Plan(req)
		if err != nil {
			t.Fatal(err)
		}
		holds(t, req, got, fmt.Sprint("case ", n))
		if got.Loss.Total() > got.Nobody.Total()+1e-9 {
			t.Errorf("case %d: watching makes it worse: %g, without %g", n, got.Loss.Total(), got.Nobody.Total())
		}
	}
}

func holds(t *testing.T, req *Request, got *Result, name string) {
	t.Helper()
	there := map[string]map[record.MatchID]bool{}
	seats := map[record.MatchID]int{}
	for _, s := range got.Seats {
		i := slices.IndexFunc(req.People, func(p Person) bool { return p.Scout == s.Scout })
		m := slices.IndexFunc(req.Matches, func(m record.Match) bool { return m.ID == s.Match })
		if i < 0 || m < 0 {
			t.Fatalf("%s: nobody of that name, or no such match: %+v", name, s)
		}
		p, f := &req.People[i], &req.Matches[m]
		if there[s.Scout] == nil {
			there[s.Scout] = map[record.MatchID]bool{}
		}
		switch {
		case there[s.Scout][s.Match]:
			t.Errorf("%s: %s sits twice in %s", name, s.Scout, s.Match)
		case !p.on(s.Match):
			t.Errorf("%s: %s sits in %s, outside the shifts", name, s.Scout, s.Match)
		case s.Team == p.Not:
			t.Errorf("%s: %s watches %s", name, s.Scout, s.Team)
		case !slices.Contains(f.Red.Teams, s.Team) && !slices.Contains(f.Blue.Teams, s.Team):
			t.Errorf("%s: %s does not play in %s", name, s.Team, s.Match)
		}
		there[s.Scout][s.Match] = true
		if seats[s.Match]++; seats[s.Match] > req.Seats {
			t.Errorf("%s: %d sit in %s", name, seats[s.Match], s.Match)
		}
	}
	if req.Row == 0 {
		return
	}
	for _, p := range req.People {
		since, off := 0, 0 // matches since the last break, and off since the last of them
		step := func(on bool, where string) {
			if off++; on {
				off = 0
				if since++; since > req.Row && where != "" {
					t.Errorf("%s: %s sits in %s, the %d. since a break of %d; %d are enough", name, p.Scout, where, since, req.Rest, req.Row)
				} else if since > req.Row {
					since = 1
				}
			}
			if off >= req.Rest {
				since = 0
			}
		}
		for _, b := range req.Before {
			step(b[p.Scout], "")
		}
		for i := range req.Matches {
			step(there[p.Scout][req.Matches[i].ID], req.Matches[i].ID.String())
		}
	}
}

// Two of an alliance of three are enough: the official total tells of the third.
// Four people sit two and two, not three and one.
func TestTwoOfThree(t *testing.T) {
	t.Parallel()
	req := &Request{Seats: 6, Weights: Weights{List: 1}}
	var teams []record.TeamID
	for i := range 6 {
		teams = append(teams, record.TeamID(fmt.Sprint(i+1)))
		req.Robots = append(req.Robots, Robot{Team: teams[i], Var: 50, Luck: 30, List: 1})
	}
	req.Matches = []record.Match{match(1, teams[:3], teams[3:])}
	for i := range 4 {
		req.People = append(req.People, Person{Scout: fmt.Sprint("s0", i+1)})
	}
	got, err := Plan(req)
	if err != nil {
		t.Fatal(err)
	}
	red := 0
	for _, s := range got.Seats {
		red += count(slices.Contains(teams[:3], s.Team))
	}
	if len(got.Seats) != 4 || red != 2 {
		t.Errorf("%d seats, %d of them red: %+v", len(got.Seats), red, got.Seats)
	}
}

// A robot is watched before our match with it rather than after, and the reason
// says so; one that a question is open about, and one never seen, too.
func TestReasons(t *testing.T) {
	t.Parallel()
	q := func(n int) record.MatchID { return record.MatchID{Stage: record.Qualification, Number: n} }
	base := func() *Request {
		req := &Request{Our: "9", Seats: 1, Weights: DefaultWeights(), People: []Person{{Scout: "s01"}}}
		for i := range 9 {
			req.Robots = append(req.Robots, Robot{Team: record.TeamID(fmt.Sprint(i + 1)), Var: 50, Luck: 30, Seen: 2, List: 0})
		}
		req.Matches = []record.Match{
			match(1, []record.TeamID{"1", "2"}, []record.TeamID{"3", "4"}),
			match(2, []record.TeamID{"9", "5"}, []record.TeamID{"2", "6"}),
		}
		return req
	}
	for name, c := range map[string]struct {
		change func(*Request)
		want   record.SeatBody
	}{
		"against us": {func(*Request) {}, record.SeatBody{Match: q(1), Team: "2", Scout: "s01", Reason: &record.SeatReason{Kind: record.SeatAgainstUs, Match: ptr(q(2)), Seen: 2}}},
		"with us": {func(r *Request) { r.Matches[1].Red.Teams[1], r.Matches[1].Blue.Teams[0] = "2", "5" },
			record.SeatBody{Match: q(1), Team: "2", Scout: "s01", Reason: &record.SeatReason{Kind: record.SeatWithUs, Match: ptr(q(2)), Seen: 2}}},
		"question":   {func(r *Request) { r.Robots[2].Asked = true; r.Weights.Asked = 9 }, record.SeatBody{Match: q(1), Team: "3", Scout: "s01", Reason: &record.SeatReason{Kind: record.SeatQuestion, Match: nil, Seen: 2}}},
		"never seen": {func(r *Request) { r.Robots[3].Seen = 0; r.Weights.Detail = 9 }, record.SeatBody{Match: q(1), Team: "4", Scout: "s01", Reason: &record.SeatReason{Kind: record.SeatNeverSeen, Match: nil, Seen: 0}}},
		"unsure":     {func(r *Request) { r.Robots[0].List = 1; r.Weights.List = 9 }, record.SeatBody{Match: q(1), Team: "1", Scout: "s01", Reason: &record.SeatReason{Kind: record.SeatUnsure, Match: nil, Seen: 2}}},
		"seldom":     {func(r *Request) { r.Robots[3].Seen = 1; r.Weights = Weights{Detail: 1} }, record.SeatBody{Match: q(1), Team: "4", Scout: "s01", Reason: &record.SeatReason{Kind: record.SeatSeldomSeen, Match: nil, Seen: 1}}},
	} {
		t.Run(name, func(t *testing.T) {
			req := base()
			c.change(req)
			got, err := Plan(req)
			if err != nil {
				t.Fatal(err)
			}
			s := got.Seats[0]
			if s.Match != c.want.Match || s.Team != c.want.Team || s.Reason.Kind != c.want.Reason.Kind || s.Reason.Seen != c.want.Reason.Seen ||
				(s.Reason.Match == nil) != (c.want.Reason.Match == nil) || s.Reason.Match != nil && *s.Reason.Match != *c.want.Reason.Match {
				t.Errorf("%+v, not %+v", s, c.want)
			}
		})
	}
}

func ptr[T any](v T) *T { return &v }

// Where there are places for all robots and more people, some watch together.
func TestSomeWatchTogether(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(14, 1))
	req := invent(rng, 24, 12, 3, 8)
	req.Row, req.Rest, req.Seats, req.Before = 0, 0, 8, nil
	for i := range req.People {
		req.People[i].Shifts, req.People[i].Not = nil, ""
	}
	got, err := Plan(req)
	if err != nil {
		t.Fatal(err)
	}
	pairs := map[[2]string]bool{}
	for i, a := range got.Seats {
		for _, b := range got.Seats[i+1:] {
			if a.Match == b.Match && a.Team == b.Team {
				pairs[[2]string{a.Scout, b.Scout}] = true
			}
		}
	}
	if len(got.Seats) != 8*12 || len(pairs) < 20 {
		t.Errorf("%d seats, %d of 28 pairs watched together", len(got.Seats), len(pairs))
	}
}

func TestPlanRefuses(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*Request){
		"no seat":         func(r *Request) { r.Seats = 0 },
		"a row, no rest":  func(r *Request) { r.Row, r.Rest = 5, 0 },
		"negative weight": func(r *Request) { r.Weights.List = -1 },
		"twice":           func(r *Request) { r.People = append(r.People, r.People[0]) },
		"no name":         func(r *Request) { r.People[0].Scout = "" },
		"shift backwards": func(r *Request) {
			r.People[0].Shifts = []record.RotaShift{{From: record.MatchID{Stage: "Q", Number: 5}, To: record.MatchID{Stage: "Q", Number: 4}}}
		},
		"out of order": func(r *Request) { slices.Reverse(r.Matches) },
		"variance":     func(r *Request) { r.Robots[0].Luck = 0 },
	} {
		t.Run(name, func(t *testing.T) {
			req := invent(rand.New(rand.NewPCG(15, 1)), 12, 6, 3, 3)
			req.Row, req.Rest = 0, 0
			change(req)
			var bad *RequestError
			if _, err := Plan(req); !errors.As(err, &bad) {
				t.Errorf("%v", err)
			}
		})
	}
}

// A day of 60 robots with as many matches, ahead; the second is twice as long.
func BenchmarkPlan(b *testing.B) {
	for _, n := range []int{60, 120} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			req := invent(rand.New(rand.NewPCG(16, 1)), n, n, 3, 5)
			req.Row, req.Rest, req.Seats, req.Before = 8, 2, 6, nil
			for b.Loop() {
				if _, err := Plan(req); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

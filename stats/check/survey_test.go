package check_test

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"sextant/stats/check"
	"sextant/stats/generate"
	"sextant/stats/record"
)

func look(t *testing.T, ev *record.Event) check.Survey {
	t.Helper()
	return check.Look(ev, estimate(t, ev), check.Options{})
}

// until is the event as it was when so many matches were over.
func until(ev *record.Event, played int) *record.Event {
	out := *ev
	out.Matches, out.Observations = slices.Clone(ev.Matches), nil
	for i := range out.Matches {
		if i >= played {
			out.Matches[i].Red.Result, out.Matches[i].Blue.Result = nil, nil
		}
	}
	for _, o := range ev.Observations {
		if o.Match.Number <= played {
			out.Observations = append(out.Observations, o)
		}
	}
	return &out
}

func seatOf(t *testing.T, s *check.Survey, match int, team record.TeamID) check.CoveredSeat {
	t.Helper()
	for _, c := range s.Matches {
		for _, seat := range c.Seats {
			if c.Match.Number == match && seat.Team == team {
				return seat
			}
		}
	}
	t.Fatalf("no seat of %s in Q%d", team, match)
	return check.CoveredSeat{}
}

// The map says of every seat what is there: what is missing of the last match
// may be on its way, until the next has begun.
func TestCoverage(t *testing.T) {
	t.Parallel()
	ev := until(invent(t, 70, nil), 30)
	s := look(t, ev)
	if len(s.Matches) != 30 {
		t.Fatalf("%d matches", len(s.Matches))
	}
	early, last := *seen(ev, 12), *seen(ev, 30)
	drop(ev, &early)
	drop(ev, &last)
	half := seen(ev, 15)
	half.To = new(int)
	*half.To = 60000
	venue := *seen(ev, 18)
	drop(ev, &venue)
	m := &ev.Matches[17]
	for _, a := range []*record.Alliance{&m.Red, &m.Blue} {
		if slices.Contains(a.Teams, venue.Team) {
			a.Absent = []record.TeamID{venue.Team}
		}
	}
	s = look(t, ev)
	for name, tt := range map[string]struct {
		o    record.Observation
		want check.State
	}{
		"Missing": {early, check.NotThere}, "OnItsWay": {last, check.OnItsWay}, "Half": {*half, check.Doubtful},
		"Absent": {venue, check.Arrived}, "There": {*seen(ev, 20), check.Arrived},
	} {
		if got := seatOf(t, &s, tt.o.Match.Number, tt.o.Team); got.State != tt.want {
			t.Errorf("%s: %+v, want %s", name, got, tt.want)
		}
	}
	asked := func(s *check.Survey, o *record.Observation) bool {
		return slices.ContainsFunc(s.Suspects, func(x check.Suspect) bool {
			return x.Kind == check.Missing && x.Match == o.Match && x.Teams[0] == o.Team
		})
	}
	if asked(&s, &last) || !asked(&s, &early) {
		t.Error("the queue has what is on its way, or not what is missing")
	}
	next := *seen(invent(t, 70, nil), 31)
	ev.Observations = append(ev.Observations, next)
	s = look(t, ev)
	if got := seatOf(t, &s, 30, last.Team); got.State != check.NotThere || !asked(&s, &last) {
		t.Errorf("once the next match has begun: %+v", got)
	}
}

// An exchange makes its robots unsafe to pick, and checking or mending it makes
// them safe again.
func TestSafe(t *testing.T) {
	t.Parallel()
	ev := invent(t, 10, nil)
	unsafe := func(s *check.Survey) (out []record.TeamID) {
		for _, u := range s.Safe.Unsafe {
			out = append(out, u.Team)
			if u.Reason == "" || u.Rank < 1 {
				t.Errorf("%+v", u)
			}
		}
		return out
	}
	s := look(t, ev)
	if want := 24; s.Safe.First != want || len(s.Safe.Unsafe) != 0 {
		t.Fatalf("%+v, want the first %d", s.Safe, want)
	}
	match, a, b := unlike(t, ev)
	exchange(at(ev, match, a), at(ev, match, b))
	s = look(t, ev)
	got := unsafe(&s)
	if !slices.Contains(got, a) && !slices.Contains(got, b) || len(got) > 3 {
		t.Errorf("rows of %s and %s were exchanged, unsafe are %v", a, b, got)
	}
	for _, team := range []record.TeamID{a, b} {
		if seat := seatOf(t, &s, match, team); seat.State != check.Doubtful {
			t.Errorf("%+v", seat)
		}
	}
	i := slices.IndexFunc(s.Suspects, func(x check.Suspect) bool { return x.Kind == check.Swap && x.Match.Number == match })
	if i < 0 || s.Suspects[i].Also == nil || s.Suspects[i].Also.Shift*s.Suspects[i].Shift >= 0 || math.Abs(s.Suspects[i].Also.Shift) > s.Suspects[i].Effect {
		t.Fatalf("one robot rises and the other falls, and Most is the one that moves most: %+v", s.Suspects[max(0, i)])
	}
	at(ev, match, a).Checked, at(ev, match, b).Checked = true, true
	s = look(t, ev)
	if got := unsafe(&s); len(got) != 0 || seatOf(t, &s, match, a).State != check.Arrived {
		t.Errorf("somebody found both right: %v", got)
	}

	few := invent(t, 10, nil)
	teams := estimate(t, few).Record().Teams
	top := slices.MaxFunc(teams, func(a, b record.TeamEstimate) int { return cmp.Compare(a.Now, b.Now) }).Team
	kept := 0
	few.Observations = slices.DeleteFunc(few.Observations, func(o record.Observation) bool {
		if o.Team == top {
			kept++
		}
		return o.Team == top && kept > 2
	})
	s = look(t, few)
	if got := unsafe(&s); !slices.Contains(got, top) {
		t.Errorf("%s was watched twice, unsafe are %v", top, got)
	}
}

// Where a count is in doubt the queue says what it most likely was.
func TestLikely(t *testing.T) {
	t.Parallel()
	ev := invent(t, 20, nil)
	o := &ev.Observations[0]
	for i := range ev.Observations {
		if p := &ev.Observations[i]; !p.Absent && *p.Counts["hold"].Made > *o.Counts["hold"].Made {
			o = p
		}
	}
	o.Counts = maps.Clone(o.Counts)
	was := *o.Counts["hold"].Made
	more := was + 24
	o.Counts["hold"] = record.Tally{Made: &more, Missed: o.Counts["hold"].Missed}
	for _, s := range look(t, ev).Suspects {
		if s.Kind == check.Stuck && s.Match == o.Match && s.Teams[0] == o.Team {
			if len(s.Likely) != 1 || s.Likely[0].Action != "hold" || s.Likely[0].From != more || s.Likely[0].To < was/3 || s.Likely[0].To > was+3 {
				t.Errorf("it was %v: %+v", was, s.Likely)
			}
			return
		}
	}
	t.Error("the stuck counter was not found")
}

// Records of teams that nobody has may stand apart, as the store keeps them.
func TestStrays(t *testing.T) {
	t.Parallel()
	ev := invent(t, 20, nil)
	o := *seen(ev, 20)
	drop(ev, &o)
	right := o.Team
	o.Team = "9" + o.Team[1:]
	ev.Strays = append(ev.Strays, o)
	s := look(t, ev)
	i := slices.IndexFunc(s.Suspects, func(x check.Suspect) bool { return x.Kind == check.UnknownTeam })
	if i < 0 || s.Suspects[i].Teams[0] != o.Team || s.Suspects[i].Teams[1] != right {
		t.Errorf("%+v", s.Suspects)
	}
}

// change does something to each record of one scout.
func change(ev *record.Event, scout string, do func(o *record.Observation)) {
	for i := range ev.Observations {
		if o := &ev.Observations[i]; o.Scout == scout && !o.Absent {
			o.Counts = maps.Clone(o.Counts)
			do(o)
		}
	}
}

func hints(t *testing.T, s *check.Survey, scout string) (check.ScoutReport, string) {
	t.Helper()
	for _, x := range s.Scouts {
		if x.Scout == scout {
			return x, strings.Join(x.Hints, " ")
		}
	}
	t.Fatalf("no scout %s", scout)
	return check.ScoutReport{}, ""
}

// A scout who overlooks half of the misses is told so, with an interval that
// holds the truth, and nobody else is.
func TestScoutBias(t *testing.T) {
	t.Parallel()
	ev := invent(t, 80, func(o *generate.Options) { o.Teams, o.Double = 40, 0.1 })
	before := look(t, ev)
	scout := before.Scouts[2].Scout
	change(ev, scout, func(o *record.Observation) {
		for id, c := range o.Counts {
			if c.Missed != nil {
				v := math.Floor(*c.Missed / 2)
				c.Missed = &v
				o.Counts[id] = c
			}
		}
	})
	s := look(t, ev)
	x, said := hints(t, &s, scout)
	if !strings.Contains(said, "Counts few misses of ") {
		t.Errorf("hints %q, habits %+v", said, x.Habits)
	}
	was, _ := hints(t, &before, scout)
	for i, h := range x.Habits {
		if h.Missed {
			if h.Bias.High > -0.2 || h.Bias.Low > -0.5 {
				t.Errorf("half of the misses was left out: %+v", h)
			}
		} else if h.Bias != was.Habits[i].Bias {
			t.Errorf("makes were not touched: %+v, before %+v", h, was.Habits[i])
		}
		if !(h.Spread.Value > 0.4 && h.Spread.Value < 1.8) || h.Bias.Low > h.Bias.Value || h.Bias.Value > h.Bias.High {
			t.Errorf("%+v", h)
		}
	}
	for _, other := range s.Scouts {
		if _, said := hints(t, &s, other.Scout); other.Scout != scout && strings.Contains(said, "few misses of") {
			t.Errorf("%s is told %q", other.Scout, said)
		}
	}
}

// Who watches the same robots nearly always is not the own witness: of eight in
// ten matches, counts twice as high show beside what others saw in the other two.
func TestScoutIsNoOwnWitness(t *testing.T) {
	t.Parallel()
	ev := invent(t, 81, nil)
	count := map[record.TeamID]int{}
	for i := range ev.Observations {
		if o := &ev.Observations[i]; !o.Absent && o.Team <= ev.Teams[5].ID {
			if count[o.Team]++; count[o.Team] > 2 {
				o.Scout = "zz"
				times(o, 2)
			}
		}
	}
	s := look(t, ev)
	x, _ := hints(t, &s, "zz")
	if i := slices.IndexFunc(x.Habits, func(h check.Habit) bool { return h.Action == "deck" && !h.Missed }); i < 0 || x.Habits[i].Bias.Low < 0.1 || x.Habits[i].Bias.Value < 0.4 {
		t.Errorf("%+v", x.Habits)
	}
}

// Intervals of scouts who make no mistakes hold nothing wrong about as often as
// they say.
func TestScoutIntervals(t *testing.T) {
	t.Parallel()
	var in, all, tired, days float64
	for seed := range uint64(2) {
		ev := invent(t, 85+seed, func(o *generate.Options) { o.Teams = 40 })
		for _, x := range look(t, ev).Scouts {
			// What all overlook is nobody's bias: rates are learned from others.
			if x.Late != nil {
				days++
				if x.Late.Low > 0 || x.Late.High < 0 {
					tired++
				}
			}
			if strings.Contains(strings.Join(x.Hints, " "), "second half") {
				t.Errorf("seed %d: %s is told to rest: %+v", seed, x.Scout, x.Late)
			}
			for _, h := range x.Habits {
				all++
				if h.Bias.Low <= 0 && h.Bias.High >= 0 {
					in++
				}
			}
		}
	}
	if all < 50 || in < 0.75*all {
		t.Errorf("%v of %v intervals hold 0", in, all)
	}
	if days < 10 || tired > 0.25*days {
		t.Errorf("%v of %v days change in a way that they should not", tired, days)
	}
}

// Counts of one robot that two made: 1 − (|6−4| + |1−1|) / (6+4+1+1), by hand.
func TestAgreement(t *testing.T) {
	t.Parallel()
	ev := invent(t, 20, nil)
	o := seen(ev, 20)
	count := func(deck float64) map[string]record.Tally {
		one := 1.0
		return map[string]record.Tally{"deck": {Made: &deck, Missed: &one}}
	}
	o.Counts = count(6)
	twin := *o
	twin.Scout, twin.Counts = "zz", count(4)
	ev.Observations = append(ev.Observations, twin)
	s := look(t, ev)
	x, _ := hints(t, &s, "zz")
	if x.Agreement == nil || math.Abs(*x.Agreement-(1-2.0/12)) > 1e-12 || x.Compared != 1 || x.Records != 1 {
		t.Errorf("%+v", x)
	}
}

// Who sees ever less over the day is told to take a break.
func TestScoutTires(t *testing.T) {
	t.Parallel()
	ev := invent(t, 90, func(o *generate.Options) { o.Teams, o.MatchesPerTeam = 40, 10 })
	days := map[string]int{}
	for i := range ev.Matches {
		days[ev.Matches[i].StartsAt.Format("2006-01-02")]++
	}
	before := look(t, ev)
	scout := before.Scouts[1].Scout
	for i := range ev.Matches { // one day, to know where its middle is
		ev.Matches[i].StartsAt = ev.Matches[0].StartsAt
	}
	change(ev, scout, func(o *record.Observation) {
		if o.Match.Number > len(ev.Matches)/2 {
			times(o, 0.6)
			for id, c := range o.Counts {
				for _, v := range []*float64{c.Made, c.Missed} {
					if v != nil {
						*v = math.Floor(*v)
					}
				}
				o.Counts[id] = c
			}
		}
	})
	s := look(t, ev)
	x, said := hints(t, &s, scout)
	if x.Late == nil || x.Late.High > -0.1 || !strings.Contains(said, "second half of the day") {
		t.Errorf("late %+v, hints %q, %d days", x.Late, said, len(days))
	}
	for _, other := range s.Scouts {
		if _, said := hints(t, &s, other.Scout); other.Scout != scout && strings.Contains(said, "second half") {
			t.Errorf("%s is told %q: %+v", other.Scout, said, other.Late)
		}
	}
}

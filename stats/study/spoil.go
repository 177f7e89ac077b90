package study

import (
	"maps"
	"math/rand/v2"
	"slices"

	"sextant/stats/check"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// spoil adds mistakes that the invented scouts do not make by themselves to an
// event, so many in a hundred matches, and lists all that is wrong. A record
// has one mistake at most.
func spoil(rng *rand.Rand, ev *record.Event, made []generate.Mistake) []mistake {
	var out []mistake
	taken := map[[2]string]bool{}
	for _, m := range made {
		teams := m.Teams
		if m.Kind == string(check.WrongRobot) {
			teams = teams[:1] // the record is about the first
		}
		out = append(out, mistake{check.Kind(m.Kind), m.Match, teams})
		for _, t := range teams {
			taken[[2]string{m.Match.String(), string(t)}] = true
		}
	}
	seats := map[[2]string]int{}
	at := map[[2]string]int{}
	for i := range ev.Observations {
		o := &ev.Observations[i]
		k := [2]string{o.Match.String(), string(o.Team)}
		seats[k]++
		at[k] = i
	}
	pick := func(ok func(*record.Observation) bool) *record.Observation {
		for range 200 {
			o := &ev.Observations[rng.IntN(len(ev.Observations))]
			k := [2]string{o.Match.String(), string(o.Team)}
			if !taken[k] && seats[k] == 1 && !o.Absent && ok(o) {
				taken[k] = true
				return o
			}
		}
		return nil
	}
	any := func(*record.Observation) bool { return true }
	add := func(kind check.Kind, o *record.Observation, teams ...record.TeamID) {
		out = append(out, mistake{kind, o.Match, append([]record.TeamID{o.Team}, teams...)})
	}
	n := max(1, 3*len(ev.Matches)/100)
	for range 2 * n {
		stuck(rng, pick, add)
	}
	for range n {
		if o := pick(any); o != nil { // a form that was sent without watching
			o.Counts = maps.Clone(o.Counts)
			for id, t := range o.Counts {
				if t.Made != nil {
					t.Made = new(float64)
				}
				if t.Missed != nil {
					t.Missed = new(float64)
				}
				o.Counts[id] = t
			}
			add(check.Outlier, o)
		}
		if o := pick(any); o != nil { // a form with anything in it
			other := &ev.Observations[rng.IntN(len(ev.Observations))]
			third := &ev.Observations[rng.IntN(len(ev.Observations))]
			if !other.Absent && !third.Absent {
				contents(o, other)
				for id := range third.Counts {
					if rng.IntN(2) == 0 {
						o.Counts = maps.Clone(o.Counts)
						o.Counts[id] = third.Counts[id]
					}
				}
				add(check.Outlier, o)
			}
		}
		if o := pick(any); o != nil {
			*o = record.Observation{Match: o.Match, Play: o.Play, Team: o.Team, Scout: o.Scout, Absent: true}
			add(check.Absent, o)
		}
		offByOne(rng, ev, pick, add)
		across(rng, ev, pick, taken, at, seats, add)
		if o := pick(any); o != nil {
			digits := []byte(o.Team)
			digits[rng.IntN(len(digits))] = byte('1' + rng.IntN(9))
			if !slices.ContainsFunc(ev.Teams, func(t record.Team) bool { return t.ID == record.TeamID(digits) }) {
				out = append(out, mistake{check.Missing, o.Match, []record.TeamID{o.Team}})
				o.Team = record.TeamID(digits)
				add(check.UnknownTeam, o)
			}
		}
	}
	return out
}

func contents(to, from *record.Observation) {
	to.Counts, to.Choices, to.Answers, to.Fouls = from.Counts, from.Choices, from.Answers, from.Fouls
}

type (
	picker func(ok func(*record.Observation) bool) *record.Observation
	adder  func(kind check.Kind, o *record.Observation, teams ...record.TeamID)
)

// stuck lets a counter run away by 6 to 20.
func stuck(rng *rand.Rand, pick picker, add adder) {
	counted := func(o *record.Observation) []string {
		var ids []string
		for id, t := range o.Counts {
			if t.Made != nil && *t.Made >= 2 {
				ids = append(ids, id)
			}
		}
		slices.Sort(ids)
		return ids
	}
	o := pick(func(o *record.Observation) bool { return len(counted(o)) > 0 })
	if o == nil {
		return
	}
	ids := counted(o)
	id := ids[rng.IntN(len(ids))]
	o.Counts = maps.Clone(o.Counts)
	t := o.Counts[id]
	more := *t.Made + 6 + float64(rng.IntN(15))
	t.Made = &more
	o.Counts[id] = t
	add(check.Stuck, o)
}

// offByOne writes what a robot of the next match did into a record.
func offByOne(rng *rand.Rand, ev *record.Event, pick picker, add adder) {
	if o := pick(func(*record.Observation) bool { return true }); o != nil {
		next := record.MatchID{Stage: o.Match.Stage, Number: o.Match.Number + 1}
		var from []*record.Observation
		for i := range ev.Observations {
			if p := &ev.Observations[i]; p.Match == next && !p.Absent {
				from = append(from, p)
			}
		}
		if len(from) > 0 {
			contents(o, from[rng.IntN(len(from))])
			add(check.WrongRobot, o)
		}
	}
}

// across exchanges two robots of opposite alliances.
func across(rng *rand.Rand, ev *record.Event, pick picker, taken map[[2]string]bool, at, seats map[[2]string]int, add adder) {
	var match *record.Match
	o := pick(func(o *record.Observation) bool {
		for i := range ev.Matches {
			if m := &ev.Matches[i]; m.ID == o.Match && slices.Contains(m.Red.Teams, o.Team) {
				match = m
				return true
			}
		}
		return false
	})
	if o == nil {
		return
	}
	team := match.Blue.Teams[rng.IntN(len(match.Blue.Teams))]
	k := [2]string{o.Match.String(), string(team)}
	if taken[k] || seats[k] != 1 || ev.Observations[at[k]].Absent {
		return
	}
	taken[k] = true
	p := &ev.Observations[at[k]]
	mine := *o
	contents(o, p)
	contents(p, &mine)
	add(check.Swap, o, team)
}

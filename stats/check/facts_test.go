package check_test

import (
	"maps"
	"slices"
	"testing"

	"sextant/stats/check"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// seen is the first record of a match whose robot did something.
func seen(ev *record.Event, match int) *record.Observation {
	for i := range ev.Observations {
		if o := &ev.Observations[i]; o.Match.Number == match && !o.Absent && *o.Counts["deck"].Made+*o.Counts["hold"].Made > 3 {
			return o
		}
	}
	return nil
}

func drop(ev *record.Event, o *record.Observation) {
	ev.Observations = slices.DeleteFunc(ev.Observations, func(p record.Observation) bool { return p.Key() == o.Key() })
}

func times(o *record.Observation, factor float64) {
	o.Counts = maps.Clone(o.Counts)
	for id, c := range o.Counts {
		if c.Made != nil {
			v := factor * *c.Made
			c.Made = &v
		}
		if c.Missed != nil {
			v := factor * *c.Missed
			c.Missed = &v
		}
		o.Counts[id] = c
	}
}

// Each thing that can be wrong is told as what it is, and is not there before.
func TestFindsFacts(t *testing.T) {
	t.Parallel()
	const match = 20
	id := record.MatchID{Stage: record.Qualification, Number: match}
	for name, c := range map[string]struct {
		spoil func(ev *record.Event) (want check.Suspect)
		least float64 // probability
	}{
		"Missing": {func(ev *record.Event) check.Suspect {
			o := *seen(ev, match)
			drop(ev, &o)
			return check.Suspect{Kind: check.Missing, Teams: []record.TeamID{o.Team}}
		}, 1},
		"Discarded": {func(ev *record.Event) check.Suspect {
			o := seen(ev, match)
			o.Discarded = true
			return check.Suspect{Kind: check.Missing, Teams: []record.TeamID{o.Team}}
		}, 1},
		"Half": {func(ev *record.Event) check.Suspect {
			o := seen(ev, match)
			from := 60000
			o.From = &from
			return check.Suspect{Kind: check.Missing, Teams: []record.TeamID{o.Team}, Scouts: []string{o.Scout}}
		}, 1},
		"UnknownTeam": {func(ev *record.Event) check.Suspect {
			o := seen(ev, match)
			right := o.Team
			o.Team = "9" + o.Team[1:]
			return check.Suspect{Kind: check.UnknownTeam, Teams: []record.TeamID{o.Team, right}, Scouts: []string{o.Scout}}
		}, 1},
		"OneMatchOff": {func(ev *record.Event) check.Suspect {
			o := seen(ev, match+1)
			for slices.Contains(slices.Concat(ev.Matches[match-1].Red.Teams, ev.Matches[match-1].Blue.Teams), o.Team) {
				o = &ev.Observations[slices.IndexFunc(ev.Observations, func(p record.Observation) bool { return p.Key() == o.Key() })+1]
			}
			other := o.Match
			o.Match = id
			return check.Suspect{Kind: check.WrongRobot, Teams: []record.TeamID{o.Team}, Scouts: []string{o.Scout}, Other: &other}
		}, 1},
		"NoSuchMatch": {func(ev *record.Event) check.Suspect {
			o := seen(ev, match)
			other := o.Match
			o.Match.Number = 400
			_ = other
			return check.Suspect{Match: o.Match, Kind: check.WrongRobot, Teams: []record.TeamID{o.Team}, Scouts: []string{o.Scout}}
		}, 1},
		"NotPlayed": {func(ev *record.Event) check.Suspect {
			o := seen(ev, match)
			m := &ev.Matches[match-1]
			m.Red.Result, m.Blue.Result = nil, nil
			return check.Suspect{Kind: check.Outlier, Teams: []record.TeamID{o.Team}, Scouts: []string{o.Scout}}
		}, 0.4},
		"OneSaysAbsent": {func(ev *record.Event) check.Suspect {
			o := seen(ev, match)
			ev.Observations = append(ev.Observations, record.Observation{Match: id, Play: 1, Team: o.Team, Scout: "zz", Absent: true})
			return check.Suspect{Kind: check.Disagree, Teams: []record.TeamID{o.Team}, Scouts: []string{o.Scout, "zz"}}
		}, 1},
		"Disagree": {func(ev *record.Event) check.Suspect {
			o := *seen(ev, match)
			team, scout := o.Team, o.Scout
			times(&o, 2.5)
			o.Scout = "zz"
			ev.Observations = append(ev.Observations, o)
			return check.Suspect{Kind: "either", Teams: []record.TeamID{team}, Scouts: []string{scout, "zz"}}
		}, 0.5},
		"AbsentScored": {func(ev *record.Event) check.Suspect {
			o := seen(ev, match)
			*o = record.Observation{Match: o.Match, Play: 1, Team: o.Team, Scout: o.Scout, Absent: true}
			return check.Suspect{Kind: check.Absent, Teams: []record.TeamID{o.Team}, Scouts: []string{o.Scout}}
		}, 0.5},
		"OfficiallyAbsent": {func(ev *record.Event) check.Suspect {
			o := seen(ev, match)
			m := &ev.Matches[match-1]
			for _, a := range []*record.Alliance{&m.Red, &m.Blue} {
				if slices.Contains(a.Teams, o.Team) {
					a.Absent = []record.TeamID{o.Team}
				}
			}
			return check.Suspect{Kind: check.Absent, Teams: []record.TeamID{o.Team}, Scouts: []string{o.Scout}}
		}, 0.9},
		"AllZeros": {func(ev *record.Event) check.Suspect {
			o := seen(ev, match)
			times(o, 0)
			return check.Suspect{Kind: check.Outlier, Teams: []record.TeamID{o.Team}, Scouts: []string{o.Scout}}
		}, 0.5},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			ev := invent(t, 71, func(o *generate.Options) { o.Teams = 36 })
			for _, s := range find(t, ev, 0.3) {
				if s.Match == id {
					t.Fatalf("before anything is wrong: %+v", s)
				}
			}
			want := c.spoil(ev)
			if want.Match.Number == 0 {
				want.Match = id
			}
			for _, s := range find(t, ev, c.least) {
				either := want.Kind == "either" && (s.Kind == check.Disagree || s.Scouts != nil && slices.Contains(s.Scouts, "zz"))
				if s.Match == want.Match && (s.Kind == want.Kind || either) && s.Teams[0] == want.Teams[0] &&
					(len(want.Teams) < 2 || s.Teams[1] == want.Teams[1]) && (either || want.Scouts == nil || slices.Equal(s.Scouts, want.Scouts)) &&
					(want.Other == nil || s.Other != nil && *s.Other == *want.Other) {
					return
				}
			}
			t.Errorf("%+v is not among %+v", want, find(t, ev, 0.05))
		})
	}
}

// A record that was tapped within seconds is told from one with the same counts
// that took a match.
func TestFindsHasty(t *testing.T) {
	t.Parallel()
	ev := invent(t, 72, func(o *generate.Options) { o.Timeline = true })
	o := seen(ev, 15)
	told := func() bool {
		return slices.ContainsFunc(find(t, ev, 0.5), func(s check.Suspect) bool {
			return s.Match == o.Match && s.Kind == check.Outlier && s.Teams[0] == o.Team
		})
	}
	if told() {
		t.Error("told before")
	}
	o.Taps = slices.Clone(o.Taps)
	for i := range o.Taps {
		o.Taps[i].MS = 1000 + 100*i
	}
	if !told() {
		t.Error("not told")
	}
}

// Nothing is missing where nobody scouts.
func TestNobodyScouts(t *testing.T) {
	t.Parallel()
	ev := invent(t, 73, func(o *generate.Options) { o.Scouts = 0 })
	if got := find(t, ev, 0.01); len(got) != 0 || got == nil {
		t.Errorf("%+v", got)
	}
}

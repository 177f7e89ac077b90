package check_test

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"sextant/stats/check"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// invent makes an event whose scouts make no mistakes, unless change says so.
func invent(t *testing.T, seed uint64, change func(*generate.Options)) *record.Event {
	t.Helper()
	return inventGame(t, "slackwater.json", generate.Slackwater(), seed, change)
}

func inventGame(t *testing.T, name string, data []byte, seed uint64, change func(*generate.Options)) *record.Event {
	t.Helper()
	g, err := game.Load(name, data)
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam, opt.Mistakes, opt.Watched, opt.Double = 30, 10, 0, 1, 0
	if change != nil {
		change(&opt)
	}
	w, err := generate.New(g, rand.New(rand.NewPCG(seed, 77)), opt)
	if err != nil {
		t.Fatal(err)
	}
	return w.Event(w.Matches())
}

// noise is what an event of these tests taught of noise, to be kept by all:
// learning it anew is nearly all that an estimate costs.
var noise = sync.OnceValues(func() (kept contrib.Components, err error) {
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		return kept, err
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam, opt.Mistakes, opt.Watched, opt.Double = 30, 10, 0, 1, 0.05
	w, err := generate.New(g, rand.New(rand.NewPCG(1, 77)), opt)
	if err != nil {
		return kept, err
	}
	fit, err := contrib.Estimate(w.Event(w.Matches()), contrib.Options{})
	if err != nil {
		return kept, err
	}
	return fit.Components(), nil
})

// estimate of an event of Slackwater.
func estimate(t *testing.T, ev *record.Event) *contrib.Fit {
	t.Helper()
	kept, err := noise()
	if err != nil {
		t.Fatal(err)
	}
	fit, err := contrib.Estimate(ev, contrib.Options{Components: &kept})
	if err != nil {
		t.Fatal(err)
	}
	return fit
}

func find(t *testing.T, ev *record.Event, least float64) []check.Suspect {
	t.Helper()
	return check.Find(ev, estimate(t, ev), check.Options{Least: least}).Suspects
}

// points of all robots.
func points(t *testing.T, ev *record.Event) map[record.TeamID]float64 {
	t.Helper()
	out := map[record.TeamID]float64{}
	for _, x := range estimate(t, ev).Record().Teams {
		out[x.Team] = x.Points
	}
	return out
}

func at(ev *record.Event, match int, team record.TeamID) *record.Observation {
	for i := range ev.Observations {
		if o := &ev.Observations[i]; o.Match.Number == match && o.Team == team {
			return o
		}
	}
	return nil
}

// exchange puts the contents of two records in each other's place.
func exchange(a, b *record.Observation) {
	a.Counts, b.Counts = b.Counts, a.Counts
	a.Choices, b.Choices = b.Choices, a.Choices
	a.Answers, b.Answers = b.Answers, a.Answers
	a.Fouls, b.Fouls = b.Fouls, a.Fouls
}

// unlike are two partners of one match whose points over the event differ most.
func unlike(t *testing.T, ev *record.Event) (match int, a, b record.TeamID) {
	t.Helper()
	worth := points(t, ev)
	var best float64
	for i := range ev.Matches {
		for _, side := range []*record.Alliance{&ev.Matches[i].Red, &ev.Matches[i].Blue} {
			for _, x := range side.Teams {
				for _, y := range side.Teams {
					o, p := at(ev, ev.Matches[i].ID.Number, x), at(ev, ev.Matches[i].ID.Number, y)
					if o == nil || p == nil || o.Absent || p.Absent {
						continue
					}
					stopped := func(o *record.Observation) bool { q := o.Answers["stopped"].Number; return q != nil && *q > 0 }
					if d := worth[x] - worth[y]; d > best && !stopped(o) && !stopped(p) {
						best, match, a, b = d, ev.Matches[i].ID.Number, x, y
					}
				}
			}
		}
	}
	return match, a, b
}

func TestFindsExchange(t *testing.T) {
	t.Parallel()
	for seed := range uint64(2) {
		ev := invent(t, 10+seed, nil)
		match, a, b := unlike(t, ev)
		before := points(t, ev)
		exchange(at(ev, match, a), at(ev, match, b))
		spoiled := points(t, ev)
		var got *check.Suspect
		for _, s := range find(t, ev, 0.1) {
			if s.Match.Number == match && s.Kind == check.Swap && slices.Contains(s.Teams, a) && slices.Contains(s.Teams, b) {
				got = &s
			}
		}
		if got == nil || got.Probability < 0.8 {
			t.Errorf("seed %d: rows of %s and %s exchanged in Q%d, and %+v was found", seed, a, b, match, got)
			continue
		}
		if !slices.Contains(got.Scouts, at(ev, match, a).Scout) || !slices.Contains(got.Scouts, at(ev, match, b).Scout) {
			t.Errorf("seed %d: scouts %v", seed, got.Scouts)
		}
		// What it says the exchange moves against what mending it moves. The
		// rough figure is right in direction and to a factor of two.
		moved := before[got.Most] - spoiled[got.Most]
		if moved*got.Shift <= 0 || got.Effect < 0.5*math.Abs(moved) || got.Effect > 2*math.Abs(moved) {
			t.Errorf("seed %d: %s moves by %.2f, said was %.2f", seed, got.Most, moved, got.Shift)
		}
	}
}

func TestFindsStuckCounter(t *testing.T) {
	t.Parallel()
	for seed := range uint64(2) {
		ev := invent(t, 20+seed, nil)
		before := points(t, ev)
		o := &ev.Observations[40+7*int(seed)]
		for o.Absent {
			o = &ev.Observations[90]
		}
		o.Counts = maps.Clone(o.Counts)
		more := *o.Counts["hold"].Made + 24
		o.Counts["hold"] = record.Tally{Made: &more, Missed: o.Counts["hold"].Missed}
		spoiled := points(t, ev)
		var got *check.Suspect
		for _, s := range find(t, ev, 0.1) {
			if s.Match == o.Match && s.Kind == check.Stuck && s.Teams[0] == o.Team {
				got = &s
			}
		}
		if got == nil || got.Probability < 0.9 || got.Action != "hold" || got.Scouts[0] != o.Scout {
			t.Errorf("seed %d: %s in %s got 24 more, and %+v was found", seed, o.Team, o.Match, got)
			continue
		}
		// An estimate gives so odd a row less weight, so this is an upper bound.
		if moved := before[o.Team] - spoiled[o.Team]; got.Shift > 0 || got.Effect < 0.5*math.Abs(moved) {
			t.Errorf("seed %d: moves by %.2f, said was %.2f", seed, moved, got.Shift)
		}
	}
}

func TestFindsPeriod(t *testing.T) {
	t.Parallel()
	found := 0
	const tries = 4
	for seed := range uint64(tries) {
		ev := invent(t, 30+seed, nil)
		var o *record.Observation // the record with most to move
		for i := range ev.Observations {
			if p := &ev.Observations[i]; !p.Absent && (o == nil || *p.Counts["auto_deck"].Made > *o.Counts["auto_deck"].Made) {
				o = p
			}
		}
		o.Counts = maps.Clone(o.Counts)
		auto, deck := o.Counts["auto_deck"], o.Counts["deck"]
		made, missed := *auto.Made+*deck.Made, *auto.Missed+*deck.Missed
		o.Counts["deck"] = record.Tally{Made: &made, Missed: &missed}
		o.Counts["auto_deck"] = record.Tally{Made: new(float64), Missed: new(float64)}
		for _, s := range find(t, ev, 0.5) {
			if s.Match == o.Match && s.Kind == check.Period && s.Teams[0] == o.Team && s.Action == "auto_deck" {
				found++
			}
		}
	}
	if found < tries-1 {
		t.Errorf("%d of %d found", found, tries)
	}
}

// Scouts who make no mistakes are left alone.
func TestCleanIsQuiet(t *testing.T) {
	t.Parallel()
	matches, alarms := 0, 0
	for seed := range uint64(2) {
		ev := invent(t, 40+seed, func(o *generate.Options) { o.Teams, o.Double = 40, 0.05 })
		matches += len(ev.Matches)
		for _, s := range find(t, ev, 0.1) {
			alarms++
			if s.Probability > 0.9 {
				t.Errorf("seed %d: %+v", seed, s)
			}
		}
	}
	if float64(alarms) > 0.05*float64(matches) {
		t.Errorf("%d alarms in %d matches", alarms, matches)
	}
}

// The order of rows does not matter, nor does which side is red.
func TestFindTransforms(t *testing.T) {
	t.Parallel()
	ev := invent(t, 50, func(o *generate.Options) { o.Mistakes, o.Watched, o.Double = 2, 0.9, 0.1 })
	want := find(t, ev, 0.1)
	if len(want) < 5 {
		t.Fatalf("only %d suspects", len(want))
	}
	mixed := *ev
	mixed.Matches, mixed.Observations = slices.Clone(ev.Matches), slices.Clone(ev.Observations)
	rng := rand.New(rand.NewPCG(1, 1))
	rng.Shuffle(len(mixed.Matches), func(i, j int) { mixed.Matches[i], mixed.Matches[j] = mixed.Matches[j], mixed.Matches[i] })
	rng.Shuffle(len(mixed.Observations), func(i, j int) {
		mixed.Observations[i], mixed.Observations[j] = mixed.Observations[j], mixed.Observations[i]
	})
	same(t, "order", find(t, &mixed, 0.1), want)
	for i := range mixed.Matches {
		m := &mixed.Matches[i]
		m.Red, m.Blue = m.Blue, m.Red
	}
	same(t, "sides", find(t, &mixed, 0.1), want)
}

func same(t *testing.T, what string, got, want []check.Suspect) {
	t.Helper()
	key := func(s *check.Suspect) string {
		teams := slices.Clone(s.Teams)
		if s.Kind == check.Swap {
			slices.Sort(teams)
		}
		return fmt.Sprint(s.Match, s.Kind, teams, len(s.Scouts))
	}
	all := map[string]check.Suspect{}
	for i := range want {
		all[key(&want[i])] = want[i]
	}
	if len(got) != len(want) {
		t.Errorf("%s: %d suspects, want %d", what, len(got), len(want))
	}
	for i := range got {
		w, ok := all[key(&got[i])]
		if !ok || math.Abs(w.Probability-got[i].Probability) > 1e-6 || math.Abs(w.Effect-got[i].Effect) > 1e-6*(1+w.Effect) {
			t.Errorf("%s: %+v, want %+v", what, got[i], w)
		}
	}
}

// Every game, at every stage of an event, gives finite answers.
func TestFindIsFinite(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../../testdata/games/*.json")
	if err != nil || len(files) < 3 {
		t.Fatal(files, err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, facts := range []bool{false, true} {
			whole := inventGame(t, file, data, 60, func(o *generate.Options) {
				o.Teams, o.MatchesPerTeam, o.Mistakes, o.Watched, o.Double, o.Timeline, o.RobotFacts = 14, 6, 3, 0.8, 0.2, true, facts
			})
			for _, played := range []int{0, 1, 3, len(whole.Matches)} {
				ev := *whole
				ev.Matches, ev.Observations = slices.Clone(whole.Matches), nil
				for i := range ev.Matches {
					if i >= played {
						ev.Matches[i].Red.Result, ev.Matches[i].Blue.Result = nil, nil
					}
				}
				for _, o := range whole.Observations {
					if o.Match.Number <= played+1 { // one match more than has a result
						ev.Observations = append(ev.Observations, o)
					}
				}
				fit, _ := contrib.Estimate(&ev, contrib.Options{})
				for _, s := range check.Find(&ev, fit, check.Options{Least: 1e-6}).Suspects {
					if !(s.Probability > 0 && s.Probability <= 1) || !(s.Effect >= 0) || math.IsInf(s.Effect, 0) || len(s.Teams) == 0 || s.Reason == "" {
						t.Errorf("%s, %d played: %+v", file, played, s)
					}
				}
			}
		}
	}
}

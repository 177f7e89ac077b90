package brief_test

import (
	"cmp"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	diff "github.com/google/go-cmp/cmp"

	"sextant/stats/brief"
	"sextant/stats/contrib"
	"sextant/stats/contrib/contribtest"
	"sextant/stats/forecast"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// world is an invented event and what is known of it.
type world struct {
	ev  *record.Event
	fit *contrib.Fit
	e   *simulate.Engine
}

func known(t testing.TB, ev *record.Event) *world {
	t.Helper()
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return &world{ev, fit, simulate.New(fit)}
}

// marbles has no caps, no ranking points and nothing to feed.
func marbles(t *testing.T) *world {
	t.Helper()
	return known(t, contribtest.New(rand.New(rand.NewPCG(5, 1)), contribtest.Options{Robots: 18, Matches: 48, Watched: 0.95, Noise: 1}).Event)
}

// invented is a generated event of a game file.
func invented(t testing.TB, name string, data []byte) *world {
	t.Helper()
	return inventedOf(t, name, data, 24, 8)
}

func inventedOf(t testing.TB, name string, data []byte, teams, matches int) *world {
	t.Helper()
	g, err := game.Load(name, data)
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam = teams, matches
	w, err := generate.New(g, rand.New(rand.NewPCG(11, 0)), opt)
	if err != nil {
		t.Fatal(err)
	}
	return known(t, w.Event(w.Matches()))
}

func file(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("../../testdata/games/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func (w *world) brief(t *testing.T, req *brief.Request) *brief.Brief {
	t.Helper()
	b, err := brief.New(w.e, w.fit, w.ev, req, rand.New(rand.NewPCG(3, 4)))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// worth is what a change makes of the goal, drawn with other luck.
func (w *world) worth(t *testing.T, m *record.Match, ours record.Colour, goal brief.Goal, c *forecast.Change) float64 {
	t.Helper()
	sides, err := forecast.Lineups(w.fit, m, c)
	if err != nil {
		t.Fatal(err)
	}
	s := w.e.ForecastLineups(rand.New(rand.NewPCG(77, 78)), &sides[0], &sides[1], 2500)
	won, points := s.RedWins+s.Tie/2, s.Red.RankingPoints
	if ours == record.Blue {
		won, points = s.BlueWins+s.Tie/2, s.Blue.RankingPoints
	}
	if goal == brief.Win {
		return won
	}
	sum := 0.0
	for _, p := range w.e.Game().RankingPoints {
		sum += points[p.ID] * p.Points
	}
	return sum
}

// The numbers of a brief are those of the forecast and of a what-if.
func TestNumbersAreThoseOfTheForecast(t *testing.T) {
	t.Parallel()
	w := invented(t, "slackwater.json", generate.Slackwater())
	m := &w.ev.Matches[9]
	b := w.brief(t, &brief.Request{Match: m, Ours: record.Red, Assume: &brief.Assume{Loss: 0.6, Keeps: 1}})
	if b.Goal != brief.RankingPoints {
		t.Errorf("goal %q", b.Goal)
	}
	now, err := forecast.Drawing(w.e, w.fit, m, 4000)
	if err != nil {
		t.Fatal(err)
	}
	change := changeOf(b)
	if len(change.Defend) == 0 {
		t.Fatalf("no defence although it is free: %+v", b.Plan)
	}
	_, planned, err := forecast.WhatIf(w.e, w.fit, m, &change, 4000)
	if err != nil {
		t.Fatal(err)
	}
	if d := diff.Diff(now, b.Now) + diff.Diff(planned, b.Planned); d != "" {
		t.Error(d)
	}
	// The drawn gain is that of the closed form, which smooths the draws.
	closed := planned.Forecast.Chance.Red + planned.Forecast.Chance.Tie/2 - now.Forecast.Chance.Red - now.Forecast.Chance.Tie/2
	if math.Abs(closed-b.Plan.Win.Gain) > 0.04 {
		t.Errorf("gain %.3f, by the forecast %.3f", b.Plan.Win.Gain, closed)
	}
	if len(b.Defend) != 3 || b.Defend[0].RankingPoints.Gain < b.Defend[2].RankingPoints.Gain {
		t.Errorf("%+v", b.Defend)
	}
	for _, d := range b.Defend {
		c := forecast.Change{Defend: []forecast.Defence{{Team: d.By, Against: d.Team, Loss: 0.6, Keeps: 1}}}
		if got := w.worth(t, m, record.Red, brief.Win, &c) - w.worth(t, m, record.Red, brief.Win, &forecast.Change{}); math.Abs(got-d.Win.Gain) > 0.02+4*d.Win.SE {
			t.Errorf("%s defends against %s: %.3f ± %.3f, by brute force %.3f", d.By, d.Team, d.Win.Gain, d.Win.SE, got)
		}
	}
	// The same source gives the same brief.
	if d := diff.Diff(b, w.brief(t, &brief.Request{Match: m, Ours: record.Red, Assume: &brief.Assume{Loss: 0.6, Keeps: 1}})); d != "" {
		t.Error(d)
	}
}

// byMean are the robots, the best first.
func (w *world) byMean() []record.TeamID {
	out := slices.Clone(w.fit.Teams())
	slices.SortFunc(out, func(a, b record.TeamID) int {
		i, _ := w.fit.Index(a)
		k, _ := w.fit.Index(b)
		return cmp.Compare(w.fit.Mean(k), w.fit.Mean(i))
	})
	return out
}

func TestRefuses(t *testing.T) {
	t.Parallel()
	w := marbles(t)
	m := &w.ev.Matches[0]
	for name, r := range map[string]brief.Request{
		"Colour": {Match: m},
		"Goal":   {Match: m, Ours: record.Red, Goal: "glory"},
		"Few":    {Match: m, Ours: record.Red, Squad: m.Red.Teams[:2]},
		"Many":   {Match: m, Ours: record.Red, Squad: w.fit.Teams()[:6]},
		"Loss":   {Match: m, Ours: record.Red, Assume: &brief.Assume{Loss: 0.61}},
		"Gain":   {Match: m, Ours: record.Red, Assume: &brief.Assume{Gain: math.NaN()}},
		"Keeps":  {Match: m, Ours: record.Red, Assume: &brief.Assume{Keeps: 1.01}},
	} {
		if _, err := brief.New(w.e, w.fit, w.ev, &r, rand.New(rand.NewPCG(1, 1))); !errors.Is(err, brief.ErrRequest) {
			t.Errorf("%s: %v", name, err)
		}
	}
	twice := brief.Request{Match: m, Ours: record.Red, Squad: []record.TeamID{m.Blue.Teams[0], m.Red.Teams[0], m.Red.Teams[1]}}
	if _, err := brief.New(w.e, w.fit, w.ev, &twice, rand.New(rand.NewPCG(1, 1))); err == nil {
		t.Error("a robot plays on both sides")
	}
}

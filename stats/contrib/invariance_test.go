package contrib

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"sextant/stats/contrib/contribtest"
	"sextant/stats/record"
)

func watchedWorld(seed uint64) *contribtest.World {
	return contribtest.New(rand.New(rand.NewPCG(seed, 3)), contribtest.Options{
		Robots: 24, Matches: 40, Watched: 0.8, Twice: 0.1, Blank: 0.05, Noise: 1, Fouls: true, Stops: true,
	})
}

func clone(ev *record.Event) *record.Event {
	out := *ev
	out.Teams = slices.Clone(ev.Teams)
	out.Matches = slices.Clone(ev.Matches)
	out.Observations = slices.Clone(ev.Observations)
	return &out
}

func same(t *testing.T, got, want record.Estimate) {
	t.Helper()
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-4, 1e-6)); diff != "" {
		t.Errorf("estimates differ (-want +got):\n%s", diff)
	}
}

func TestEstimateIsDeterministic(t *testing.T) {
	t.Parallel()
	ev := watchedWorld(1).Event
	a, b := mustEstimate(t, ev, Options{}), mustEstimate(t, ev, Options{})
	if diff := cmp.Diff(a.Record(), b.Record()); diff != "" {
		t.Error(diff)
	}
}

func TestEstimateOrderOfRows(t *testing.T) {
	t.Parallel()
	ev := watchedWorld(2).Event
	want := mustEstimate(t, ev, Options{})
	rng := rand.New(rand.NewPCG(5, 5))
	other := clone(ev)
	rng.Shuffle(len(other.Observations), func(i, j int) {
		other.Observations[i], other.Observations[j] = other.Observations[j], other.Observations[i]
	})
	rng.Shuffle(len(other.Teams), func(i, j int) { other.Teams[i], other.Teams[j] = other.Teams[j], other.Teams[i] })
	for i := range other.Matches {
		m := &other.Matches[i]
		m.Red.Teams = slices.Clone(m.Red.Teams)
		slices.Reverse(m.Red.Teams)
	}
	same(t, mustEstimate(t, other, Options{}).Record(), want.Record())
}

func TestEstimateRelabelledTeams(t *testing.T) {
	t.Parallel()
	ev := watchedWorld(3).Event
	want := mustEstimate(t, ev, Options{}).Record()
	rng := rand.New(rand.NewPCG(6, 6))
	label := map[record.TeamID]record.TeamID{}
	for i, k := range rng.Perm(len(ev.Teams)) {
		label[ev.Teams[i].ID] = record.TeamID(fmt.Sprint(9000 - k))
	}
	other := clone(ev)
	for i := range other.Teams {
		other.Teams[i].ID = label[other.Teams[i].ID]
	}
	for i := range other.Matches {
		for _, c := range []record.Colour{record.Red, record.Blue} {
			a := other.Matches[i].Side(c)
			a.Teams = slices.Clone(a.Teams)
			for k := range a.Teams {
				a.Teams[k] = label[a.Teams[k]]
			}
		}
	}
	for i := range other.Observations {
		other.Observations[i].Team = label[other.Observations[i].Team]
	}
	got := mustEstimate(t, other, Options{}).Record()
	for i := range want.Teams {
		want.Teams[i].Team = label[want.Teams[i].Team]
	}
	slices.SortFunc(want.Teams, func(a, b record.TeamEstimate) int { return record.CompareTeams(a.Team, b.Team) })
	same(t, got, want)
}

func TestEstimateRedAndBlueExchanged(t *testing.T) {
	t.Parallel()
	ev := watchedWorld(4).Event
	other := clone(ev)
	for i := range other.Matches {
		m := &other.Matches[i]
		m.Red, m.Blue = m.Blue, m.Red
	}
	same(t, mustEstimate(t, other, Options{}).Record(), mustEstimate(t, ev, Options{}).Record())
}

func TestEstimateScaled(t *testing.T) {
	t.Parallel()
	const factor = 4
	ev := watchedWorld(5).Event
	want := mustEstimate(t, ev, Options{}).Record()
	other := clone(ev)
	g := contribtest.Game()
	for i := range g.Actions {
		g.Actions[i].Points *= factor
		for k := range g.Actions[i].Options {
			g.Actions[i].Options[k].Points *= factor
		}
	}
	other.Game = g
	for i := range other.Matches {
		for _, c := range []record.Colour{record.Red, record.Blue} {
			a := other.Matches[i].Side(c)
			fouls := factor * *a.Result.FromFouls
			a.Result = &record.Result{Score: factor * a.Result.Score, FromFouls: &fouls}
		}
	}
	got := mustEstimate(t, other, Options{}).Record()
	for i := range want.Teams {
		w := &want.Teams[i]
		for _, p := range []*float64{&w.Points, &w.SD, &w.Now, &w.NowSD, &w.Working, w.LeastSquares.Offence, w.LeastSquares.Defence, w.LeastSquares.Margin} {
			*p *= factor
		}
	}
	for k := range want.Fit.Components {
		if k != "partners" { // a correlation
			want.Fit.Components[k] *= factor
		}
	}
	for k, p := range want.Fit.Priors {
		if k != "partners" {
			p.Median *= factor
			want.Fit.Priors[k] = p
		}
	}
	want.Fit.Rest *= factor
	want.Fit.LogLikelihood = got.Fit.LogLikelihood // a density: it moves by rows·log 4
	same(t, got, want)
}

package contrib

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"sextant/stats/contrib/contribtest"
	"sextant/stats/record"
)

// told is what a layer says of a robot, to be compared by team.
type told struct{ mean, sd float64 }

func layer(t *testing.T, ev *record.Event, name string) map[record.TeamID]told {
	t.Helper()
	b, err := NewBaseline(ev, name)
	if err != nil {
		t.Fatal(err)
	}
	out := map[record.TeamID]told{}
	for i, team := range b.Teams() {
		out[team] = told{b.Mean(i), math.Sqrt(b.Cov(i, i))}
	}
	return out
}

// TestBaselinesTransform holds for the layers below the fused model what
// invariance_test.go holds for the estimate: rows in another order, teams under
// other numbers, red and blue exchanged, scores in other units.
func TestBaselinesTransform(t *testing.T) {
	t.Parallel()
	const factor = 4.0
	// New numbers, which stand in the same order or not: a letter makes them teams of their own.
	label := func(ev *record.Event, team record.TeamID) record.TeamID {
		return record.TeamID("9"+string(team)[1:]) + "Z"
	}
	tests := map[string]struct {
		change func(ev *record.Event)
		team   func(ev *record.Event, team record.TeamID) record.TeamID
		scale  float64
	}{
		"OrderOfRows": {change: func(ev *record.Event) {
			rng := rand.New(rand.NewPCG(5, 5))
			rng.Shuffle(len(ev.Teams), func(i, j int) { ev.Teams[i], ev.Teams[j] = ev.Teams[j], ev.Teams[i] })
			rng.Shuffle(len(ev.Observations), func(i, j int) {
				ev.Observations[i], ev.Observations[j] = ev.Observations[j], ev.Observations[i]
			})
			for i := range ev.Matches {
				m := &ev.Matches[i]
				m.Blue.Teams = slices.Clone(m.Blue.Teams)
				slices.Reverse(m.Blue.Teams)
			}
		}},
		"RelabelledTeams": {team: label, change: func(ev *record.Event) {
			for i := range ev.Teams {
				ev.Teams[i].ID = label(ev, ev.Teams[i].ID)
			}
			for i := range ev.Matches {
				for _, c := range []record.Colour{record.Red, record.Blue} {
					a := ev.Matches[i].Side(c)
					a.Teams = slices.Clone(a.Teams)
					for k := range a.Teams {
						a.Teams[k] = label(ev, a.Teams[k])
					}
				}
			}
			for i := range ev.Observations {
				ev.Observations[i].Team = label(ev, ev.Observations[i].Team)
			}
		}},
		"RedAndBlueExchanged": {change: func(ev *record.Event) {
			for i := range ev.Matches {
				m := &ev.Matches[i]
				m.Red, m.Blue = m.Blue, m.Red
			}
		}},
		"Scaled": {scale: factor, change: func(ev *record.Event) {
			g := contribtest.Game()
			for i := range g.Actions {
				g.Actions[i].Points *= factor
				for k := range g.Actions[i].Options {
					g.Actions[i].Options[k].Points *= factor
				}
			}
			ev.Game = g
			for i := range ev.Matches {
				for _, c := range []record.Colour{record.Red, record.Blue} {
					a := ev.Matches[i].Side(c)
					fouls := factor * *a.Result.FromFouls
					a.Result = &record.Result{Score: factor * a.Result.Score, FromFouls: &fouls}
				}
			}
		}},
		"MatchWithoutInformation": {change: func(ev *record.Event) {
			ev.Matches = append(ev.Matches, unplayed(ev))
		}},
	}
	for _, name := range Estimators() {
		if name == Estimators()[0] {
			continue // the estimate itself: invariance_test.go
		}
		for what, test := range tests {
			t.Run(name+"/"+what, func(t *testing.T) {
				t.Parallel()
				ev := watchedWorld(7).Event
				want := layer(t, ev, name)
				other := clone(ev)
				test.change(other)
				got := layer(t, other, name)
				if len(got) != len(want) {
					t.Fatalf("%d robots, want %d", len(got), len(want))
				}
				scale := 1.0
				if test.scale != 0 {
					scale = test.scale
				}
				for team, w := range want {
					to := team
					if test.team != nil {
						to = test.team(ev, team)
					}
					g, ok := got[to]
					if !ok {
						t.Fatalf("%s is gone", to)
					}
					if near := 1e-6 * (1 + math.Abs(w.mean)*scale); !(math.Abs(g.mean-w.mean*scale) < near) || !(math.Abs(g.sd-w.sd*scale) < near) {
						t.Errorf("%s: %.6f ± %.6f, want %.6f ± %.6f", to, g.mean, g.sd, w.mean*scale, w.sd*scale)
					}
				}
			})
		}
	}
}

// unplayed is one more match of robots that are there, without result and records.
func unplayed(ev *record.Event) record.Match {
	last := ev.Matches[len(ev.Matches)-1]
	id := last.ID
	id.Number++
	return record.Match{ID: id, Play: 1, StartsAt: last.StartsAt.Add(8 * time.Minute),
		Red: record.Alliance{Teams: last.Blue.Teams}, Blue: record.Alliance{Teams: last.Red.Teams}}
}

// TestEstimateMatchWithoutInformation: a match to come tells nothing.
func TestEstimateMatchWithoutInformation(t *testing.T) {
	t.Parallel()
	ev := watchedWorld(8).Event
	want := mustEstimate(t, ev, Options{}).Record()
	other := clone(ev)
	other.Matches = append(other.Matches, unplayed(ev))
	same(t, mustEstimate(t, other, Options{}).Record(), want)
}

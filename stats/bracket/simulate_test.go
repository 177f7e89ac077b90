package bracket_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"sextant/stats/bracket"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// event is an invented event, all of it played, and its estimate.
func event(t testing.TB) (*record.Event, *contrib.Fit) {
	t.Helper()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam = 24, 8
	w, err := generate.New(g, rand.New(rand.NewPCG(11, 0)), opt)
	if err != nil {
		t.Fatal(err)
	}
	ev := w.Event(w.Matches())
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return ev, fit
}

// alliances are eight of three robots in order of number.
func alliances(ev *record.Event) []record.SelectedAlliance {
	var out []record.SelectedAlliance
	for a := range 8 {
		out = append(out, record.SelectedAlliance{Alliance: a + 1, Captain: ev.Teams[3*a].ID, Picks: []record.TeamID{ev.Teams[3*a+1].ID, ev.Teams[3*a+2].ID}})
	}
	return out
}

func TestWalkAgainstPlan(t *testing.T) {
	t.Parallel()
	const runs = 40000
	for _, name := range []string{"double_elimination_8", "single_elimination_8", "round_robin"} {
		f := format(t, name, 6, 2)
		rng := rand.New(rand.NewPCG(5, 5))
		game := chances(rng, 6)
		plan, err := bracket.NewPlan(f, nil)
		if err != nil {
			t.Fatal(err)
		}
		exact := plan.Chances()
		plan.Run(game, exact)
		count := make([][]float64, 6)
		for a := range count {
			count[a] = make([]float64, len(plan.Places))
		}
		for range runs {
			for a, p := range bracket.Walk(f, nil, func(_, red, blue int) bool { return rng.Float64() < game[red*6+blue] }, nil) {
				count[a][p]++
			}
		}
		for a := range count {
			for p := range count[a] {
				got, want := count[a][p]/runs, exact.Place[a][p]
				if se := math.Sqrt(want * (1 - want) / runs); math.Abs(got-want) > 4.5*se+1e-9 {
					t.Errorf("%s: alliance %d at %s: drawn %.4f, exact %.4f ± %.4f", name, a+1, plan.Places[p], got, want, se)
				}
			}
		}
	}
}

func TestSimulate(t *testing.T) {
	t.Parallel()
	ev, fit := event(t)
	const runs = 3000
	all := alliances(ev)
	b, err := bracket.Simulate(fit, ev, all, runs, rand.New(rand.NewPCG(1, 0)))
	if err != nil {
		t.Fatal(err)
	}
	win, final := 0.0, 0.0
	for _, a := range b.Alliances {
		win += a.Win
		final += a.Final
		if a.Rounds["upper 1"] != 1 || a.Rounds["final"] != a.Final || a.Win > a.Final {
			t.Errorf("alliance %d: %+v", a.Alliance, a)
		}
	}
	if math.Abs(win-1) > 1e-9 || math.Abs(final-2) > 1e-9 {
		t.Errorf("the chances come to %v to win, %v for the final", win, final)
	}
	if len(b.Next) != 4 || b.Next[0].Match.String() != "P1" || b.Next[0].Red != 1 || b.Next[0].Blue != 8 {
		t.Fatalf("next: %+v", b.Next)
	}
	// A first match is the forecast of its two alliances; ties are played again.
	index := func(teams []record.TeamID) (out []int) {
		for _, id := range teams {
			i, _ := fit.Index(id)
			out = append(out, i)
		}
		return out
	}
	f := simulate.New(fit).Forecast(rand.New(rand.NewPCG(2, 0)), index(all[0].Teams()), index(all[7].Teams()), 6000)
	want := f.RedWins / (f.RedWins + f.BlueWins)
	if se := math.Sqrt(want * (1 - want) / 2000); math.Abs(b.Next[0].Chance.Red-want) > 4.5*se {
		t.Errorf("P1: red wins %.3f, its forecast %.3f ± %.3f", b.Next[0].Chance.Red, want, se)
	}
}

// played is a playoff match with a result.
func played(id string, red, blue *record.SelectedAlliance, redScore, blueScore float64, finish [2]float64) record.Match {
	m := record.Match{Play: 1}
	m.ID, _ = record.ParseMatch(id)
	m.Red = record.Alliance{Teams: red.Teams(), Result: &record.Result{Score: redScore, Components: map[string]float64{"autonomous": 10, "finish": finish[0]}}}
	m.Blue = record.Alliance{Teams: blue.Teams(), Result: &record.Result{Score: blueScore, Components: map[string]float64{"autonomous": 10, "finish": finish[1]}}}
	return m
}

func TestSimulateHoldsWhatWasPlayed(t *testing.T) {
	t.Parallel()
	ev, fit := event(t)
	all := alliances(ev)
	after := *ev
	replay := played("P3", &all[6], &all[1], 80, 90, [2]float64{}) // colours need not be those of the table
	replay.Play = 2
	after.Matches = append(after.Matches,
		played("P1", &all[0], &all[7], 50, 60, [2]float64{}),
		played("P2", &all[3], &all[4], 70, 70, [2]float64{12, 4}), // the tie order decides: alliance 4
		played("P3", &all[6], &all[1], 88, 88, [2]float64{2, 2}),  // a tie all the way: played again
		replay,
		played("P4", &all[2], &all[5], 88, 88, [2]float64{2, 2}), // a tie all the way, not yet played again
		played("P5", &all[0], &all[4], 50, 60, [2]float64{}),     // alliance 1 loses again and is out
	)
	b, err := bracket.Simulate(fit, &after, all, 400, rand.New(rand.NewPCG(1, 0)))
	if err != nil {
		t.Fatal(err)
	}
	if a := b.Alliances[0]; a.Win != 0 || a.Places["7-8"] != 1 {
		t.Errorf("alliance 1 lost twice: %+v", a)
	}
	var next []string
	for _, m := range b.Next {
		next = append(next, m.Match.String())
	}
	if len(next) != 2 || next[0] != "P4" || next[1] != "P7" {
		t.Errorf("next: %v, want P4 again and P7", b.Next)
	}
	after.Matches = append(after.Matches, played("P6", &all[0], &all[1], 50, 60, [2]float64{}))
	var mismatch *bracket.MismatchError
	if _, err := bracket.Simulate(fit, &after, all, 1, rand.New(rand.NewPCG(1, 0))); !errors.As(err, &mismatch) || mismatch.Match.String() != "P6" {
		t.Errorf("a match of an alliance that is out: %v", err)
	}
}

package contrib

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"sextant/stats/contrib/contribtest"
	"sextant/stats/record"
)

func TestEstimateFewData(t *testing.T) {
	t.Parallel()
	teams := func(n int) (out []record.Team) {
		for i := range n {
			out = append(out, record.Team{ID: record.TeamID(fmt.Sprint(1 + i))})
		}
		return out
	}
	match := func(n int, red, blue string, rs, bs float64) record.Match {
		side := func(list string, score float64) (a record.Alliance) {
			for _, t := range strings.Fields(list) {
				a.Teams = append(a.Teams, record.TeamID(t))
			}
			a.Result = &record.Result{Score: score}
			return a
		}
		return record.Match{ID: record.MatchID{Stage: record.Qualification, Number: n}, Play: 1, Red: side(red, rs), Blue: side(blue, bs)}
	}
	one := match(1, "1 2 3", "4 5 6", 60, 30)
	cases := []struct {
		name string
		ev   *record.Event
		// wide: the least sd of every robot, in shares of the mean contribution
		wide float64
	}{
		{"OneMatch", &record.Event{Teams: teams(6), Matches: []record.Match{one}}, 0.3},
		{"OneMatchEqualScores", &record.Event{Teams: teams(6), Matches: []record.Match{match(1, "1 2 3", "4 5 6", 45, 45)}}, 0.3},
		{"RobotWithoutMatch", &record.Event{Teams: teams(7), Matches: []record.Match{one}}, 0.3},
		{"NothingScored", &record.Event{Teams: teams(6), Matches: []record.Match{match(1, "1 2 3", "4 5 6", 0, 0)}}, 0},
		{"OneRecordNoResult", &record.Event{Teams: teams(6), Matches: []record.Match{{ID: one.ID, Play: 1, Red: record.Alliance{Teams: one.Red.Teams}, Blue: record.Alliance{Teams: one.Blue.Teams}}},
			Observations: []record.Observation{observed(1, "1", number(5), nil, "on")}}, 0.2},
		{"OneRecordWithoutSchedule", &record.Event{Teams: teams(2), Observations: []record.Observation{observed(1, "1", number(5), nil, "")}}, 0.2},
		{"OneRecord", &record.Event{Teams: teams(6), Matches: []record.Match{one}, Observations: []record.Observation{observed(1, "1", number(5), number(2), "on")}}, 0.2},
		{"AlwaysTogether", &record.Event{Teams: teams(8), Matches: []record.Match{
			match(1, "1 2 3", "4 5 6", 60, 30), match(2, "1 2 7", "8 5 3", 55, 40), match(3, "4 7 6", "1 2 8", 20, 70), match(4, "3 5 7", "1 2 4", 44, 61)}}, 0.15},
		{"Disconnected", &record.Event{Teams: teams(12), Matches: []record.Match{
			match(1, "1 2 3", "4 5 6", 60, 30), match(2, "7 8 9", "10 11 12", 55, 40), match(3, "1 4 5", "2 3 6", 52, 47)}}, 0.2},
		{"Absent", func() *record.Event {
			m := one
			m.Red.Absent = []record.TeamID{"2", "3"}
			return &record.Event{Teams: teams(6), Matches: []record.Match{m}}
		}(), 0.2},
		{"NobodyCame", func() *record.Event {
			m := one
			m.Red.Absent = m.Red.Teams
			return &record.Event{Teams: teams(6), Matches: []record.Match{m}}
		}(), 0.2},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			c.ev.Game = contribtest.Game()
			fit := mustEstimate(t, c.ev, Options{})
			e := fit.Record()
			var mean float64
			for _, x := range e.Teams {
				mean += math.Abs(x.Points) / float64(len(e.Teams))
			}
			for i, x := range e.Teams {
				for what, v := range map[string]float64{"points": x.Points, "sd": x.SD, "now": x.Now, "now_sd": x.NowSD, "working": x.Working, "stops": x.Stops, "match variance": fit.MatchVariance(i)} {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Errorf("team %s: %s is %v", x.Team, what, v)
					}
				}
				if x.SD <= 0 || x.SD < c.wide*mean || x.NowSD < c.wide*mean {
					t.Errorf("team %s: points %.1f ± %.2f, now ± %.2f: not wide for a mean of %.1f", x.Team, x.Points, x.SD, x.NowSD, mean)
				}
			}
			if _, err := json.Marshal(e); err != nil {
				t.Error(err) // NaN has no JSON
			}
		})
	}

	// One match that records explain to the point says nothing about how much
	// matches vary: the prior still does.
	t.Run("OneMatchSeenExactly", func(t *testing.T) {
		ev := &record.Event{Game: contribtest.Game(), Teams: teams(6), Matches: []record.Match{match(1, "1 2 3", "4 5 6", 60, 60)}}
		before := mustEstimate(t, ev, Options{}).MatchVariance(0, 1, 2)
		for i := range 6 {
			ev.Observations = append(ev.Observations, observed(1, ev.Teams[i].ID, number(4), number(2), "none")) // 20 points
		}
		if got := mustEstimate(t, ev, Options{}).MatchVariance(0, 1, 2); got < 0.5*before || got > 1.5*before {
			t.Errorf("an alliance's total is taken to vary by ± %.2f, without records ± %.2f", math.Sqrt(got), math.Sqrt(before))
		}
	})
	t.Run("TogetherAreEqual", func(t *testing.T) {
		ev := cases[slices.IndexFunc(cases, func(c struct {
			name string
			ev   *record.Event
			wide float64
		}) bool {
			return c.name == "AlwaysTogether"
		})].ev
		e := mustEstimate(t, ev, Options{}).Record()
		if a, b := e.Teams[0], e.Teams[1]; math.Abs(a.Points-b.Points) > 1e-9 || math.Abs(a.SD-b.SD) > 1e-9 {
			t.Errorf("two robots that nothing tells apart: %.4f ± %.4f and %.4f ± %.4f", a.Points, a.SD, b.Points, b.SD)
		}
	})
	t.Run("Nothing", func(t *testing.T) {
		for _, ev := range []*record.Event{
			{Game: contribtest.Game()}, {Game: contribtest.Game(), Teams: teams(6)},
			{Game: contribtest.Game(), Teams: teams(2), Observations: []record.Observation{{Team: "1", Scout: "s01", Match: one.ID}}},
		} {
			if _, err := Estimate(ev, Options{}); !errors.Is(err, ErrNoData) {
				t.Errorf("error %v, want ErrNoData", err)
			}
		}
	})
}

func TestEstimateWithoutNoise(t *testing.T) {
	t.Parallel()
	for name, adds := range map[string]func(robot int) float64{
		"AllEqual":       func(int) float64 { return 20 },
		"AllButEqual":    func(r int) float64 { return 20 + 1e-9*float64(r) },
		"ExactSums":      func(r int) float64 { return float64(10 + 2*(r%12)) },
		"NothingScored":  func(int) float64 { return 0 },
		"NegativeScores": func(r int) float64 { return -float64(r % 5) },
	} {
		t.Run(name, func(t *testing.T) {
			ev, _ := readEvent(t, "small")
			for i := range ev.Matches {
				m := &ev.Matches[i]
				m.RedS, m.BlueS = 0, 0
				for k := range m.Red {
					m.RedS += adds(m.Red[k])
					m.BlueS += adds(m.Blue[k])
				}
			}
			fit := mustEstimate(t, ev.event(), Options{})
			for i, e := range fit.Record().Teams {
				want := adds(ev.Robots[i])
				if math.Abs(e.Points-want) > 0.1+1.5*e.SD || !(e.SD > 0) {
					t.Errorf("team %s: %v ± %v, want %v", e.Team, e.Points, e.SD, want)
				}
			}
			if v := fit.MatchVariance(0); !(v > 0) || math.IsInf(v, 0) {
				t.Errorf("match variance %v", v)
			}
		})
	}
}

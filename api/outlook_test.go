package api

import (
	"math"
	"testing"
	"time"

	"sextant/stats/backtest"
)

func TestStandings(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(16, 12)
	coach := lead.join("coach", "cora")
	var s standingsView
	a := coach.get(".standings").want(200, &s)
	if !s.Current || s.Runs < 20000 || len(s.Teams) != teamCount || len(s.Ranking) != teamCount || len(s.Schedules) != teamCount || s.OurTeam != "40101" {
		t.Fatalf("%d teams in %d runs, our team %q: %.300s", len(s.Teams), s.Runs, s.OurTeam, a.body)
	}
	var captains float64
	for _, team := range s.Teams {
		captains += team.Seeded
		if string(team.Team) == s.OurTeam && math.Abs(team.Seeded-s.Goal.Chance) > 1e-9 {
			t.Errorf("to be a captain %v, the goal %v", team.Seeded, s.Goal.Chance)
		}
	}
	if math.Abs(captains-float64(s.Captains)) > 1e-6 || s.Goal.Top != s.Captains {
		t.Errorf("%v captains of %d, goal %d", captains, s.Captains, s.Goal.Top)
	}
	coach.get(".standings", "If-None-Match", a.header.Get("ETag")).want(304)
	var first standingsView
	coach.get(".standings?top=1", "If-None-Match", a.header.Get("ETag")).want(200, &first)
	if first.Goal.Top != 1 || first.Goal.Chance >= s.Goal.Chance {
		t.Errorf("goal of place 1: %+v", first.Goal)
	}

	// Another team of ours has other goals, at once.
	lead.send("PATCH", ".", map[string]any{"our_team": "40112"}).want(200)
	var other standingsView
	coach.get(".standings").want(200, &other)
	if other.OurTeam != "40112" || other.Goal.Chance == s.Goal.Chance {
		t.Errorf("our team %q, goal %+v", other.OurTeam, other.Goal)
	}

	// After a result new ones are made without being asked for.
	lead.send("PUT", ".matches", matchesCSV(16, 13), "Content-Type", csvType).want(200)
	waitFor(t, "new standings", func() bool {
		coach.get(".standings").want(200, &s)
		return s.Current && s.DataNo > first.DataNo
	})
}

// waitFor asks again and again, for at most half a minute.
func waitFor(t *testing.T, what string, ok func() bool) {
	t.Helper()
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	end := time.After(30 * time.Second)
	for !ok() {
		select {
		case <-tick.C:
		case <-end:
			t.Fatalf("no %s within 30 s", what)
		}
	}
}

func TestStandingsOfAnEmptyEvent(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead()
	var s standingsView
	lead.get(".standings").want(200, &s)
	if s.Runs != 0 || s.Goal != nil || s.Teams == nil || s.Ranking == nil || s.Schedules == nil || len(s.Order) == 0 {
		t.Errorf("%+v", s)
	}
	var c calibrationView
	lead.get(".calibration").want(200, &c)
	if c.Rows == nil || c.Forecasts == nil || c.Trust.Level != backtest.TrustTooLittle {
		t.Errorf("%+v", c)
	}
}

func TestCalibrationAndPlayedForecast(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(16, 14)
	coach := lead.join("coach", "cora")
	var one matchForecast
	coach.get(".forecasts/Q12").want(200, &one)
	if one.Actual == nil || one.Actual.RedScore <= 0 || one.Forecast == nil && !one.Pending {
		t.Errorf("%+v", one)
	}
	// What was pending is made without being asked for again.
	waitFor(t, "forecast of a played match", func() bool {
		one = matchForecast{}
		coach.get(".forecasts/Q12").want(200, &one)
		return !one.Pending
	})
	var c calibrationView
	a := coach.get(".calibration").want(200, &c)
	if c.Played != 14 || len(c.Rows) == 0 || !c.Current {
		t.Fatalf("%.300s", a.body)
	}
	coach.get(".calibration", "If-None-Match", a.header.Get("ETag")).want(304)
	found := false
	for _, f := range c.Forecasts {
		if f.Match.String() == "Q12" {
			found = true
			if f.RedScore != one.Actual.RedScore || f.Chance != one.Forecast.Chance {
				t.Errorf("in the calibration %+v, alone %+v", f, one.Forecast)
			}
		}
	}
	if !found {
		t.Errorf("no forecast of Q12 among %d", len(c.Forecasts))
	}
}

func TestWhatIf(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(16, 12)
	coach := lead.join("coach", "cora")
	var list matchList
	coach.get(".matches").want(200, &list)
	m := &list.Matches[13]
	ask := func(what map[string]any) (v whatIfView) {
		what["match"] = m.ID.String()
		coach.send("POST", ".what-if", what).want(200, &v)
		return v
	}
	stop := ask(map[string]any{"stop": []string{string(m.Red.Teams[0])}})
	if stop.After.Forecast.Red.Mean >= stop.Before.Forecast.Red.Mean-2 || stop.After.Forecast.Chance.Red >= stop.Before.Forecast.Chance.Red {
		t.Errorf("a robot stands: %+v, before %+v", stop.After.Forecast, stop.Before.Forecast)
	}
	var now matchForecast
	coach.get(".forecasts/"+m.ID.String()).want(200, &now)
	if math.Abs(now.Forecast.Chance.Red-stop.Before.Forecast.Chance.Red) > 0.03 || now.DataNo != stop.DataNo {
		t.Errorf("before: %+v, the forecast %+v", stop.Before.Forecast, now.Forecast)
	}
	swap := ask(map[string]any{"replace": []map[string]any{{"out": m.Red.Teams[0], "in": m.Blue.Teams[1]}}})
	if swap.After.Forecast.Red.Mean == swap.Before.Forecast.Red.Mean {
		t.Error("partners changed and nothing else did")
	}
	defend := ask(map[string]any{"defend": []map[string]any{{"team": m.Red.Teams[0], "against": m.Blue.Teams[1], "loss": 0.5, "keeps": 1}}})
	if defend.After.Forecast.Blue.Mean >= defend.Before.Forecast.Blue.Mean || math.Abs(defend.After.Forecast.Red.Mean-defend.Before.Forecast.Red.Mean) > 1 {
		t.Errorf("blue is defended against: %+v, before %+v", defend.After.Forecast, defend.Before.Forecast)
	}
	coach.send("POST", ".what-if", map[string]any{"match": m.ID.String(), "stop": []string{"99999"}}).problem(invalid, "/stop/0", "does not play")
	coach.send("POST", ".what-if", map[string]any{"match": m.ID.String(), "defend": []map[string]any{{"team": m.Red.Teams[0], "against": m.Blue.Teams[1], "loss": 0.7, "keeps": 1}}}).problem(invalid, "loss")
	coach.send("POST", ".what-if", map[string]any{"match": "X1"}).problem(invalid, "/match")
	coach.send("POST", ".what-if", map[string]any{"match": "Q99"}).problem(notFound, "not in the schedule")
}

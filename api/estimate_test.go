package api

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestEstimatesOfAnEmptyEvent(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead()
	var e estimates
	a := lead.get(".estimates").want(200, &e)
	if len(e.Teams) != 0 || !e.Current || !strings.Contains(string(a.body), `"teams":[]`) {
		t.Errorf("estimates %s", a.body)
	}
	if a := lead.get(".forecasts").want(200); !strings.Contains(string(a.body), `"forecasts":[]`) {
		t.Errorf("forecasts %s", a.body)
	}
}

func TestEstimatesAndForecasts(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(16, 12)
	coach := lead.join("coach", "cora")
	var e estimates
	a := coach.get(".estimates").want(200, &e)
	if len(e.Teams) != teamCount || !e.Current || e.Fit.Matches != 12 {
		t.Fatalf("estimates %+v", e.Freshness)
	}
	// Robot i adds 5+i points: the last is worth more than the first.
	if first, last := e.Teams[0], e.Teams[teamCount-1]; last.Points-first.Points < 5 {
		t.Errorf("%s has %.1f points, %s has %.1f", first.Team, first.Points, last.Team, last.Points)
	}
	coach.get(".estimates", "If-None-Match", a.header.Get("ETag")).want(304)

	var all forecasts
	coach.get(".forecasts").want(200, &all)
	if len(all.Forecasts) != 4 || all.Forecasts[0].Match.String() != "Q13" {
		t.Fatalf("forecasts %+v", all)
	}
	for _, f := range all.Forecasts {
		if sum := f.Chance.Red + f.Chance.Blue + f.Chance.Tie; math.Abs(sum-1) > 1e-9 || f.Red.P10 > f.Red.P90 {
			t.Errorf("forecast %+v", f)
		}
	}
	var one matchForecast
	coach.get(".forecasts/Q14").want(200, &one)
	if !cmp.Equal(one.Forecast, &all.Forecasts[1]) || one.DataNo != e.DataNo || one.Actual != nil {
		t.Errorf("forecast %+v, in the list %+v", one, all.Forecasts[1])
	}
	if one.Red == nil || len(one.Red.Quantiles) != 41 || math.Abs(one.Red.Quantiles[20]-one.Forecast.Red.Mean) > one.Forecast.Red.SD {
		t.Errorf("red's score as it was drawn: %+v, forecast %+v", one.Red, one.Forecast.Red)
	}
	coach.get(".forecasts/Q99").problem(notFound, "not in the schedule")
}

// TestEstimatesFollowTheData asks until the answer is of the newest data: at
// no time may it say that it is and be old.
func TestEstimatesFollowTheData(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(12, 6)
	var before, after estimates
	a := lead.get(".estimates").want(200, &before)
	lead.send("PUT", ".matches", matchesCSV(12, 7), "Content-Type", csvType).want(200)
	var ev eventView
	lead.get(".").want(200, &ev)
	deadline := time.Now().Add(20 * time.Second)
	for {
		lead.get(".estimates").want(200, &after)
		if after.Current != (after.DataNo == ev.DataNo) {
			t.Fatalf("%+v of an event whose data number is %d", after.Freshness, ev.DataNo)
		}
		if after.Current {
			break
		}
		if time.Now().After(deadline) {
			t.Fatal("the estimates stay old")
		}
	}
	if after.Fit.Matches != 7 || after.DataNo <= before.DataNo {
		t.Errorf("estimates of %d matches, data number %d after %d", after.Fit.Matches, after.DataNo, before.DataNo)
	}
	if tag := lead.get(".estimates").header.Get("ETag"); tag == a.header.Get("ETag") {
		t.Error("new estimates have the old ETag")
	}
	// What is no data for an analysis does not make it old.
	lead.send("PATCH", ".", map[string]string{"name": "Other name"}).want(200)
	if lead.get(".estimates").want(200, &after); !after.Current {
		t.Error("another name of the event makes the estimates old")
	}
	// A scout's record moves the estimate of its robot.
	lead.push(lead.observation("Q1", "40101", leadName, 1))
	for lead.get(".estimates").want(200, &after); !after.Current && time.Now().Before(deadline); {
		lead.get(".estimates").want(200, &after)
	}
	if after.Fit.Records != 1 {
		t.Errorf("the estimate uses %d records, want 1", after.Fit.Records)
	}
}

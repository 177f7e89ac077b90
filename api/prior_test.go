package api

import (
	"encoding/json"
	"strings"
	"testing"

	"sextant/stats/record"
)

// Estimates of one event are prior knowledge of the next: something is known of
// its robots before its first match, and it goes with the export.
func TestPrior(t *testing.T) {
	t.Parallel()
	first := newFixture(t).lead().withSchedule(12, 12)
	var was record.Estimate
	first.get(".estimates").want(200, &was)
	text, err := json.Marshal(record.Estimate{Teams: was.Teams, Fit: was.Fit})
	if err != nil {
		t.Fatal(err)
	}

	f := newFixture(t)
	next := f.lead().withSchedule(12, 0)
	var none, with record.Estimate
	next.get(".estimates").want(200, &none)
	if len(none.Teams) != 0 {
		t.Fatalf("%d robots are known before anything was played", len(none.Teams))
	}
	var v priorView
	next.send("PUT", ".prior", string(text), "Content-Type", "application/json").want(200, &v)
	if v.Teams != len(was.Teams) || v.Here == 0 {
		t.Errorf("%+v of %d teams", v, len(was.Teams))
	}
	known := func(c *client) int {
		var e struct {
			record.Estimate
			Current bool
		}
		for !e.Current { // the analysis is made off the request path
			c.get(".estimates").want(200, &e)
		}
		with = e.Estimate
		return len(with.Teams)
	}
	if known(next) == 0 {
		t.Fatal("nothing is known with the earlier estimates either")
	}
	best := func(e record.Estimate) (out record.TeamID) {
		top := 0.0
		for _, x := range e.Teams {
			if x.Working > top {
				top, out = x.Working, x.Team
			}
		}
		return out
	}
	if best(was) != best(with) {
		t.Errorf("the best was %s and is %s before anything was played", best(was), best(with))
	}

	archive := next.get(".export?form=ndjson").want(200)
	if !strings.Contains(string(archive.body), `"prior":`) {
		t.Error("the export has no prior")
	}
	if bare := next.get(".export?form=ndjson&redact=strategy").want(200); strings.Contains(string(bare.body), `"prior":`) {
		t.Error("without strategy the prior stays")
	}
	to := newFixture(t)
	there := to.account()
	var r restored
	there.send("POST", "/api/restore", string(archive.body), "Content-Type", "application/x-ndjson").want(201, &r)
	there.event = r.EventID
	there.get(".prior").want(200, &v)
	if v.Teams != len(was.Teams) {
		t.Errorf("restored: %+v", v)
	}

	next.send("PUT", ".prior", `{"teams":[{"team":"1","working":3,"now_sd":1}]}`, "Content-Type", "application/json").problem(invalid, "none of its teams")
	next.send("PUT", ".prior", `{"teams":`, "Content-Type", "application/json").problem(invalid, "estimates.json")
	next.join("scout", "s01").get(".prior").problem(notAllowed)
	next.send("DELETE", ".prior", nil).want(204)
	next.get(".prior").want(200, &v)
	if v.Teams != 0 || known(next) != 0 {
		t.Errorf("after taking it away: %+v, %d robots known", v, len(with.Teams))
	}
}

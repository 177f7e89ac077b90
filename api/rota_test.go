package api

import (
	"encoding/json"
	"reflect"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/stats/rota"
)

// A plan is made, put in force, and made anew when somebody is missing: what is
// about to begin stays. Scouts see who sits where, and not what was set.
func TestRota(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(16, 8)
	scout, coach := lead.join("scout", "s01"), lead.join("coach", "cora")
	settings := map[string]any{
		"people": []map[string]any{{"scout": "s01"}, {"scout": "s02", "shifts": []map[string]any{{"from": "Q9", "to": "Q12"}}}, {"scout": "s03"}, {"scout": "s04"}},
		"seats":  6, "row": 4, "rest": 1,
	}
	plan := func(change map[string]any) (v rotaView) {
		body := map[string]any{"from": "Q9"}
		for _, m := range []map[string]any{settings, change} {
			for k, x := range m {
				body[k] = x
			}
		}
		lead.send("POST", ".rota", body).want(200, &v)
		return v
	}
	first := plan(nil)
	if first.Matches != 8 || len(first.Seats) < 20 || first.Loss.Total() >= first.Nobody.Total() {
		t.Fatalf("%d matches, %d seats, loss %+v, nobody %+v", first.Matches, len(first.Seats), first.Loss, first.Nobody)
	}
	for _, s := range first.Seats {
		if s.Scout == "s02" && s.Match.Number > 12 || s.Match.Number < 9 {
			t.Errorf("%+v", s)
		}
	}
	var items []any
	keep := func(kind string, id uuid.UUID, body any) {
		text, err := json.Marshal(body)
		if err != nil {
			t.Fatal(err)
		}
		items = append(items, sentRevision{RevisionID: uuid.Must(uuid.NewV7()), RecordID: id, Parents: []uuid.UUID{}, Kind: kind, Lamport: 1, MadeAt: time.Now(), Body: text})
	}
	keep("rota", record.RotaID(lead.event), settings)
	for _, s := range first.Seats {
		keep("seat", record.SeatID(lead.event, s.Match, s.Scout), s)
	}
	for _, o := range lead.push(items...).Items {
		if o.Outcome != "stored" {
			t.Fatalf("%+v", o.Problem)
		}
	}
	count := func(c *client, kind string) int {
		var list struct{ Records []recordView }
		c.get(".records?kind="+kind).want(200, &list)
		return len(list.Records)
	}
	if seats, rotas := count(scout, "seat"), count(scout, "rota"); seats != len(first.Seats) || rotas != 0 {
		t.Errorf("a scout sees %d of %d seats and %d settings", seats, len(first.Seats), rotas)
	}
	if seats, rotas := count(coach, "seat"), count(coach, "rota"); seats != len(first.Seats) || rotas != 1 {
		t.Errorf("a coach sees %d of %d seats and %d settings", seats, len(first.Seats), rotas)
	}
	if o := scout.push(items[len(items)-1]).Items[0]; o.Outcome == "stored" {
		t.Error("a scout writes a rota")
	}

	again := plan(map[string]any{"keep": 2, "people": []map[string]any{{"scout": "s01"}, {"scout": "s02", "away": true}, {"scout": "s03"}, {"scout": "s04"}}})
	is := map[[2]string]string{}
	for _, s := range again.Seats {
		is[[2]string{s.Match.String(), s.Scout}] = string(s.Team)
		if s.Scout == "s02" {
			t.Errorf("s02 is away: %+v", s)
		}
	}
	for _, s := range first.Seats {
		if s.Match.Number <= 10 && s.Scout != "s02" && is[[2]string{s.Match.String(), s.Scout}] != string(s.Team) {
			t.Errorf("%+v does not stay: %q", s, is[[2]string{s.Match.String(), s.Scout}])
		}
	}
	lead.send("POST", ".rota", map[string]any{"from": "X", "people": []any{}, "seats": 6}).problem(invalid, "/from")
	lead.send("POST", ".rota", map[string]any{"from": "Q9", "people": []any{}, "seats": 6, "row": 4}).problem(invalid, "break")
}

// A plan goes for what the lead says, and for the usual where nothing is said.
func TestRotaGoals(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(12, 4)
	var usual goalsView
	lead.get(".rota").want(200, &usual)
	if usual.Weights != rota.DefaultWeights() || usual.Most != record.MaxRotaWeight {
		t.Errorf("the usual is %+v, not %+v and at most %d", usual, rota.DefaultWeights(), record.MaxRotaWeight)
	}
	plan := func(weights map[string]float64) (v rotaView) {
		t.Helper()
		lead.send("POST", ".rota", map[string]any{
			"from": "Q5", "seats": 6, "people": []map[string]any{{"scout": "s01"}, {"scout": "s02"}}, "weights": weights,
		}).want(200, &v)
		return v
	}
	if said, silent := plan(map[string]float64{"brief": 1, "list": 1, "detail": 0.25, "asked": 1, "spread": 0.005, "twice": 0.005}), plan(nil); !reflect.DeepEqual(said, silent) {
		t.Errorf("the usual said and left out differ: %+v and %+v", said, silent)
	}
	only := plan(map[string]float64{"brief": 0, "list": 0, "asked": 0, "spread": 0, "twice": 0})
	if want := (rota.Weights{Detail: rota.DefaultWeights().Detail}); only.Weights != want {
		t.Errorf("planned with %+v, not %+v", only.Weights, want)
	}
	if only.Loss.Detail >= only.Nobody.Detail || only.Loss.Total() != only.Loss.Detail || only.Nobody.Total() != only.Nobody.Detail {
		t.Errorf("a plan that goes for detail alone: %+v, nobody %+v", only.Loss, only.Nobody)
	}
	if d, usual := only.Loss.Detail, plan(nil).Loss.Detail; d > usual {
		t.Errorf("a plan that goes for detail alone leaves %g of it, the usual %g", d, usual)
	}
	for pointer, weights := range map[string]map[string]float64{
		"/weights/list": {"list": -1}, "/weights/brief": {"brief": 1000.5}, "/weights/luck": {"luck": 1},
	} {
		lead.send("POST", ".rota", map[string]any{"from": "Q5", "people": []any{}, "seats": 6, "weights": weights}).problem(invalid, pointer)
	}
	lead.send("POST", ".rota", map[string]any{"from": "Q5", "people": []map[string]any{{"scout": "s01"}, {"scout": "s01"}}, "seats": 6}).problem(invalid, "/people/1/scout")
}

// What a plan can go for has the same names in the plan and in records.
func TestRotaWeights(t *testing.T) {
	t.Parallel()
	text, err := json.Marshal(rota.DefaultWeights())
	if err != nil {
		t.Fatal(err)
	}
	var names map[string]float64
	if err := json.Unmarshal(text, &names); err != nil {
		t.Fatal(err)
	}
	if len(names) != len(record.RotaWeights()) {
		t.Errorf("%v and %v", names, record.RotaWeights())
	}
	for _, name := range record.RotaWeights() {
		if _, ok := names[name]; !ok {
			t.Errorf("no weight is called %s", name)
		}
	}
}

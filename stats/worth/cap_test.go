package worth

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/stats/selection"
)

// capEvent is an event of twelve robots: the first three lift and score a
// little; 40104 lifts and makes 30 points, 40105 does not lift and makes 26,
// the others make less. Only two lifts of an alliance are credited.
func capEvent(t *testing.T) (*record.Event, *contrib.Fit) {
	t.Helper()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	g, _, err = g.Override("event.json", []byte(`{"selection": {"alliances": 2, "picks": 2}, "playoff": {"format": "single_elimination_2"}}`))
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(8, 8))
	ev := &record.Event{Game: g}
	deck := []float64{5, 5, 5, 5, 6.5, 4, 4, 4, 4, 3, 3, 3}
	for i := range deck {
		ev.Teams = append(ev.Teams, record.Team{ID: record.TeamID(fmt.Sprint(40101 + i))})
	}
	number := 0
	for range 16 {
		for order := rng.Perm(len(deck)); len(order) > 0; order = order[6:] {
			number++
			m := record.Match{ID: record.MatchID{Stage: record.Qualification, Number: number}, Play: 1}
			var did [2]game.Played
			for k, i := range order[:6] {
				n := float64(int(deck[i] + 0.5*float64(rng.IntN(4)) - 0.25))
				end := "none"
				if i < 4 {
					end = "lifted"
				}
				did[k/3].Robots = append(did[k/3].Robots, game.Robot{Counts: map[string]float64{"deck": n}, Choices: map[string]string{"mooring": end}})
				m.Side([]record.Colour{record.Red, record.Blue}[k/3]).Teams = append(m.Side([]record.Colour{record.Red, record.Blue}[k/3]).Teams, ev.Teams[i].ID)
				zero := 0.0
				ev.Observations = append(ev.Observations, record.Observation{Match: m.ID, Play: 1, Team: ev.Teams[i].ID, Scout: fmt.Sprintf("s%d", k), Counts: map[string]record.Tally{
					"deck": {Made: &n}, "hold": {Made: &zero}, "auto_deck": {Made: &zero}, "pennant": {Made: &zero}, "cast_off": {Made: &zero},
				}, Choices: map[string]record.Chosen{"mooring": {Option: end}}})
			}
			red, blue := g.Score(did[0], did[1])
			none := 0.0
			m.Red.Result = &record.Result{Score: red.Points, FromFouls: &none, Components: red.Components}
			m.Blue.Result = &record.Result{Score: blue.Points, FromFouls: &none, Components: blue.Components}
			ev.Matches = append(ev.Matches, m)
		}
	}
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return ev, fit
}

// TestFullCap: our two robots lift already. The best by points is a third
// lifter, whose lift is not credited; the best call is the one who does not lift.
func TestFullCap(t *testing.T) {
	t.Parallel()
	ev, fit := capEvent(t)
	var ranking []record.TeamID
	for _, x := range ev.Teams {
		ranking = append(ranking, x.ID)
	}
	ranking[2], ranking[1] = ranking[1], ranking[2] // 40103 is the other captain
	b, err := selection.New(selection.RulesOf(ev.Game.Selection), ranking)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range []selection.Move{
		{Captain: "40101", Invites: "40102", Answer: selection.Accepts},
		{Captain: "40103", Invites: "40106", Answer: selection.Accepts},
		{Captain: "40103", Invites: "40107", Answer: selection.Accepts},
	} {
		if err := b.Move(m); err != nil {
			t.Fatal(err)
		}
	}
	e, err := New(fit, b, Options{Our: "40101", Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	a, err := e.Refine(context.Background(), 0.003, 2000, nil)
	if err != nil {
		t.Fatal(err)
	}
	points := map[record.TeamID]float64{}
	var lifter *record.Candidate
	for i, c := range a.Candidates {
		points[c.Team] = c.Points
		if c.Team == "40104" {
			lifter = &a.Candidates[i]
		}
	}
	if points["40104"] < points["40105"]+2 {
		t.Fatalf("the lifter is not the best by points: %v", points)
	}
	if a.Candidates[0].Team != "40105" || lifter == nil || lifter.Tie {
		t.Errorf("best call %+v, lifter %+v", a.Candidates[0], lifter)
	}
	if lifter != nil && !strings.Contains(lifter.Reason, "lifted is not counted") {
		t.Errorf("the lifter's reason does not tell of the full cap: %q", lifter.Reason)
	}
}

package contrib

import (
	"math"
	"testing"

	"sextant/stats/contrib/contribtest"
	"sextant/stats/game"
	"sextant/stats/record"
)

// A game with 10 points in a 20 s endgame and 10 before it.
func occupiedGame() *record.Event {
	g := contribtest.Game()
	g.Periods = append(g.Periods, game.Period{ID: "endgame", Seconds: 20, Within: "driver"})
	for i := range g.Actions {
		if g.Actions[i].ID == "park" {
			g.Actions[i].Period = "endgame"
		}
	}
	g.Questions = append(g.Questions, game.Question{ID: "guarding", Kind: "number", When: "match", Role: game.RoleDefendingSeconds})
	ev := &record.Event{Game: g, Teams: []record.Team{{ID: "1"}}}
	for n := range 30 {
		ev.Observations = append(ev.Observations, observed(n+1, "1", number(2), number(1), "on")) // 10 and 10 points
	}
	return ev
}

func TestOccupied(t *testing.T) {
	t.Parallel()
	o := newOccupied(newEvidence(occupiedGame()))
	answers := func(stood, guarding float64) map[string]game.Answer {
		return map[string]game.Answer{"stood": {Number: &stood}, "guarding": {Number: &guarding}}
	}
	taps := func(from, to int) []record.Tap {
		return []record.Tap{{MS: from * 1000, Action: "stood", Step: 1}, {MS: to * 1000, Action: "stood", Step: -1}}
	}
	// The match: 15 s, 3 s of pause, 135 s of which the last 20 are the endgame.
	for name, c := range map[string]struct {
		o    record.Observation
		want float64
	}{
		"Nothing":      {record.Observation{Answers: answers(0, 0)}, 0},
		"Evenly":       {record.Observation{Answers: answers(27, 0)}, 0.2},
		"Defending":    {record.Observation{Answers: answers(0, 54)}, 0.4},
		"Both":         {record.Observation{Answers: answers(27, 27)}, 0.4},
		"AllMatch":     {record.Observation{Answers: answers(135, 135)}, 1},
		"Endgame":      {record.Observation{Answers: answers(20, 0), Taps: taps(133, 153)}, 0.5 + 0.5*20/135},
		"UntilTheEnd":  {record.Observation{Answers: answers(20, 0), Taps: taps(133, 0)[:1]}, 0.5 + 0.5*20/135},
		"Before":       {record.Observation{Answers: answers(27, 0), Taps: taps(30, 57)}, 0.5 * 27 / 135},
		"Corrected":    {record.Observation{Answers: answers(54, 0), Taps: taps(133, 153)}, 0.4},
		"OtherTimings": {record.Observation{Answers: answers(27, 0), Taps: []record.Tap{{MS: 1000, Action: "high", Step: 1}}}, 0.2},
	} {
		t.Run(name, func(t *testing.T) {
			got, _, known := o.lost(&c.o)
			if !known || math.Abs(got-c.want) > 0.02 {
				t.Errorf("lost %.3f (known %v), want %.3f", got, known, c.want)
			}
		})
	}
	if _, _, known := o.lost(&record.Observation{}); known {
		t.Error("a record without answers says something about stops")
	}
}

package record

import (
	"reflect"
	"testing"

	"sextant/stats/game"
)

func TestJoinParts(t *testing.T) {
	t.Parallel()
	most := 150.0
	g := &game.Game{
		Actions: []game.Action{
			{ID: "deck", Kind: game.Count, Misses: true}, {ID: "off", Kind: game.Flag}, {ID: "moor", Kind: game.Choice},
		},
		Questions: []game.Question{
			{ID: "still", Kind: "number", When: "match", Role: game.RoleStoppedSeconds, Max: &most},
			{ID: "unseen", Kind: "flag", When: "match", Role: game.RoleLostSight},
		},
	}
	n := func(v float64) *float64 { return &v }
	ms := func(v int) *int { return &v }
	yes, no := true, false
	part := func(scout string, from, to *int, made float64) *Observation {
		return &Observation{
			Match: mustMatch(t, "Q1"), Team: "40117", Scout: scout, From: from, To: to,
			Counts: map[string]Tally{"deck": {Made: n(made), Missed: n(1)}},
		}
	}

	t.Run("AddsUpWhatWasHandedOn", func(t *testing.T) {
		t.Parallel()
		a, b := part("ann", nil, ms(60_000), 3), part("bo", ms(66_000), nil, 4)
		a.Counts["off"] = Tally{Made: n(1)}
		a.Taps, b.Taps = []Tap{{MS: 5_000, Action: "deck", Step: 1}}, []Tap{{MS: 70_000, Action: "deck", Step: 1}}
		a.Answers = map[string]game.Answer{"still": {Number: n(100)}, "unseen": {Flag: &yes}}
		b.Answers = map[string]game.Answer{"still": {Number: n(80)}, "unseen": {Flag: &no}}
		a.Choices, b.Choices = map[string]Chosen{"moor": {Tried: &yes}}, map[string]Chosen{"moor": {Option: "up"}}
		b.Fouls, a.Note, b.Note = map[string]float64{"push": 1}, "fast", "tipped over"
		got := JoinParts(g, []*Observation{b, a})
		want := []*Observation{{
			Match: a.Match, Team: "40117", Scout: "ann",
			Counts:  map[string]Tally{"deck": {Made: n(7), Missed: n(2)}, "off": {Made: n(1)}},
			Choices: map[string]Chosen{"moor": {Option: "up", Tried: &yes}},
			Fouls:   map[string]float64{"push": 1},
			Answers: map[string]game.Answer{"still": {Number: n(150)}, "unseen": {Flag: &yes}},
			Taps:    []Tap{{MS: 5_000, Action: "deck", Step: 1}, {MS: 70_000, Action: "deck", Step: 1}},
			Note:    "fast; tipped over",
		}}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("joined to %+v, want %+v", got[0], want[0])
		}
		if *a.Counts["deck"].Made != 3 || a.To == nil || len(a.Taps) != 1 {
			t.Error("a record that was given has been changed")
		}
	})

	for name, all := range map[string][]*Observation{
		"OtherHalfMissing": {part("ann", nil, ms(60_000), 3)},
		"GapBetween":       {part("ann", nil, ms(60_000), 3), part("bo", ms(76_000), nil, 4)},
		"NoEnd":            {part("ann", nil, ms(60_000), 3), part("bo", ms(60_000), ms(90_000), 4)},
		"TwoWholes":        {part("ann", nil, nil, 3), part("bo", nil, nil, 4)},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if got := JoinParts(g, all); !reflect.DeepEqual(got, all) {
				t.Errorf("%d records became %d", len(all), len(got))
			}
		})
	}

	t.Run("ThreeHands", func(t *testing.T) {
		t.Parallel()
		all := []*Observation{
			part("ann", nil, ms(50_000), 1), part("bo", ms(50_000), ms(90_000), 2), part("cy", ms(95_000), nil, 4),
			part("dee", nil, nil, 8),
		}
		got := JoinParts(g, all)
		if len(got) != 2 || *got[0].Counts["deck"].Made != 7 || got[0].Part() || *got[1].Counts["deck"].Made != 8 {
			t.Errorf("got %+v", got)
		}
	})

	t.Run("Rows", func(t *testing.T) {
		t.Parallel()
		alone := part("cy", nil, ms(50_000), 9)
		alone.Team, alone.Note = "40102", "fast"
		gone := part("dee", nil, nil, 8)
		gone.Discarded = true
		got := Rows(g, []Observation{*part("bo", ms(61_000), nil, 4), *part("ann", nil, ms(60_000), 3), *alone, *gone})
		if len(got) != 2 || got[0].Scout != "cy" || got[0].Counts != nil || got[0].Note != "fast" ||
			got[1].Scout != "ann" || *got[1].Counts["deck"].Made != 7 {
			t.Errorf("got %+v", got)
		}
		if alone.Counts == nil {
			t.Error("a record that was given has been changed")
		}
	})
}

func mustMatch(t *testing.T, s string) MatchID {
	t.Helper()
	id, err := ParseMatch(s)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

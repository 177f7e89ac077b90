package main

import (
	"errors"
	"strings"
	"testing"
	"time"

	"sextant/stats/bracket"
	"sextant/stats/record"
	"sextant/stats/selection"
	"sextant/store/storetest"
)

// TestDemoToTheChampion lets the demo's event go on to its end: what is not ours
// by itself, what is ours when asked.
func TestDemoToTheChampion(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("starts a PostgreSQL")
	}
	ctx := t.Context()
	db := storetest.New(t)
	size := demoSize{teams: 27, matches: 4} // three robots are left over
	start := time.Date(2031, 3, 7, 9, 0, 0, 0, time.UTC)
	d, err := openDemo(ctx, db, size, 1, start)
	if err != nil {
		t.Fatal(err)
	}
	ours, last := 0, ""
	for steps := 0; ; steps++ {
		said, err := d.next(ctx, false)
		if errors.Is(err, errOurTurn) {
			ours++
			said, err = d.next(ctx, true)
			if !strings.Contains(said, string(demoOurTeam)) {
				t.Errorf("asked for our own move it said %q", said)
			}
		}
		if errors.Is(err, errDemoOver) {
			last = err.Error()
			break
		}
		if err != nil || steps > 200 {
			t.Fatalf("step %d after %q: %v", steps, said, err)
		}
	}
	if ours == 0 {
		t.Error("nobody waited for our own team")
	}
	end, err := d.turn(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if _, on := end.board.Turn(); on {
		t.Error("the selection is not over")
	}
	declined := 0
	var teams [][]record.TeamID
	for _, e := range end.log {
		if e.Answer == selection.Declines {
			declined++
		}
	}
	for _, a := range end.board.Alliances() {
		teams = append(teams, append([]record.TeamID{a.Captain}, a.Picks...))
	}
	if declined == 0 || len(teams) != 8 {
		t.Errorf("%d declined and there are %d alliances", declined, len(teams))
	}
	f, err := bracket.FormatOf(end.event.Game.Playoff, len(teams))
	if err != nil {
		t.Fatal(err)
	}
	standings, err := bracket.Played(f, end.event.Game, teams, end.event.Matches)
	if err != nil {
		t.Fatal(err)
	}
	if open := bracket.Open(f, standings); len(open) > 0 {
		t.Errorf("series %v are open", open)
	}
	final := standings[len(standings)-1]
	winner := teams[final.Red]
	if final.BlueWins > final.RedWins {
		winner = teams[final.Blue]
	}
	if !strings.Contains(last, string(winner[0])) {
		t.Errorf("it ends with %q, and %v won the final %d to %d", last, winner, final.RedWins, final.BlueWins)
	}

	// Started again it has lost nothing.
	again, err := openDemo(ctx, db, size, 1, start)
	if err != nil {
		t.Fatal(err)
	}
	if said, err := again.next(ctx, true); !errors.Is(err, errDemoOver) {
		t.Errorf("started again it goes on with %q, %v", said, err)
	}
}

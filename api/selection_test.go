package api

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/stats/selection"
	"sextant/stats/worth"
)

// advice asks for advice and returns its lines.
func (c *client) advice(body map[string]any) []adviceLine {
	c.f.t.Helper()
	a := c.send("POST", ".selection", body).want(200)
	var out []adviceLine
	for _, text := range bytes.Split(bytes.TrimSpace(a.body), []byte("\n")) {
		var l adviceLine
		if err := json.Unmarshal(text, &l); err != nil {
			c.f.t.Fatalf("%v in %.200s", err, text)
		}
		out = append(out, l)
	}
	return out
}

// move is a move of the selection as a device sends it.
func (c *client) move(step int, m selection.Move) sentRevision {
	c.f.t.Helper()
	return sentRevision{
		RevisionID: uuid.Must(uuid.NewV7()), RecordID: uuid.Must(uuid.NewV7()), Parents: []uuid.UUID{},
		Kind: record.KindSelection, Lamport: int64(step), MadeAt: time.Date(2031, 3, 7, 15, 0, 0, 0, time.UTC),
		Body: mustJSON(c.f.t, record.SelectionBody{Step: step, Round: m.Round, Captain: m.Captain, Invites: m.Invites, Answer: m.Answer}),
	}
}

func TestSelection(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(16, 16)
	coach := lead.join("coach", "cora")
	ask := map[string]any{"runs": 64, "se": 0.5}
	lines := coach.advice(ask)
	if len(lines) < 2 || lines[0].Board == nil || lines[1].Advice == nil {
		t.Fatalf("%+v", lines)
	}
	start := lines[0].Board
	turn := start.Turn
	if turn == nil || turn.Round != 1 || len(start.Pool) != teamCount-1 || len(start.Refused) != 0 {
		t.Fatalf("at the start: %+v", start)
	}
	last := lines[len(lines)-1].Advice
	if last == nil || last.Runs < 64 || len(last.Candidates) == 0 {
		t.Errorf("advice: %+v", last)
	}

	// A device that reckons for itself says the same.
	known := coach.get(".selection/knowledge").want(200)
	desk, err := worth.NewDesk(known.body)
	if err != nil {
		t.Fatal(err)
	}
	if err := desk.Ask(mustJSON(t, worth.Question{Our: "40101", Ranking: start.Ranking, SE: 0.5, Runs: 64})); err != nil {
		t.Fatal(err)
	}
	var own record.Advice
	for done := false; !done; {
		var text []byte
		if text, done, err = desk.Refine(); err != nil {
			t.Fatal(err)
		}
		own = record.Advice{}
		if err := json.Unmarshal(text, &own); err != nil {
			t.Fatal(err)
		}
	}
	if d := cmp.Diff(last, &own); d != "" {
		t.Errorf("without the server: %s", d)
	}

	// The lead writes moves down; one is against the rules and is shown.
	first := selection.Move{Captain: turn.Captain, Invites: start.Pool[0], Answer: selection.Declines, Round: 1}
	for _, o := range lead.push(lead.move(1, first), lead.move(2, first), lead.move(3, selection.Move{Captain: turn.Captain, Invites: turn.Captain, Answer: selection.Accepts, Round: 1})).Items {
		if o.Outcome != "stored" {
			t.Errorf("%+v", o)
		}
	}
	after := coach.advice(ask)[0].Board
	if len(after.Declined) != 1 || after.Declined[0] != start.Pool[0] || len(after.Refused) != 1 || after.Refused[0].Rule != "is the inviting captain" {
		t.Errorf("after a decline and a move against the rules: %+v", after)
	}
	coach.get(".bracket").problem(notFound, "finish the alliance selection")

	// A rehearsal has moves of its own; everything else is as on the board.
	rehearsed := coach.advice(map[string]any{"runs": 8, "se": 0.5, "moves": []selection.Move{}})[0].Board
	if len(rehearsed.Declined) != 0 {
		t.Errorf("rehearsal: %+v", rehearsed)
	}

	if l := coach.advice(map[string]any{"our": "99999"}); l[len(l)-1].Error == "" {
		t.Errorf("a team that is not there: %+v", l)
	}
	lead.join("scout", "s01").send("POST", ".selection", map[string]any{}).want(403)

	// The rest of the selection: everybody takes the first who may be invited.
	ranking := start.Ranking
	b, err := selection.New(selection.Rules{Alliances: len(start.Alliances), Picks: start.Rounds}, ranking)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Move(first); err != nil {
		t.Fatal(err)
	}
	var moves []any
	for turn, on := b.Turn(); on; turn, on = b.Turn() {
		m := selection.Move{Captain: turn.Captain, Round: turn.Round, Answer: selection.NobodyLeft}
		if pool := b.Pool(); len(pool) > 0 {
			m.Invites, m.Answer = pool[0], selection.Accepts
		}
		if err := b.Move(m); err != nil {
			t.Fatal(err)
		}
		moves = append(moves, lead.move(10+len(moves), m))
	}
	lead.push(moves...)
	var view bracketView
	coach.get(".bracket").want(200, &view)
	win := 0.0
	for _, a := range view.Alliances {
		win += a.Win
	}
	if len(view.Alliances) != len(b.Alliances()) || len(view.Next) == 0 || len(view.Series) != 14 || view.Series[0].Red.Alliance != 1 || view.Series[13].Red.From != "W11" || win < 0.999 || win > 1.001 {
		t.Errorf("bracket: %+v", view)
	}
	if done := coach.advice(ask); done[0].Board.Turn != nil || len(done) != 1 {
		t.Errorf("all picks are made: %+v", done)
	}
}

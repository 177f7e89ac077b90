package record_test

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/game"
	"sextant/stats/record"
)

func TestMatchID(t *testing.T) {
	t.Parallel()
	order := []string{"W1", "W12", "Q1", "Q2", "Q10", "P1", "P13", "F1", "F3"}
	var ids []record.MatchID
	for _, s := range order {
		id, err := record.ParseMatch(s)
		if err != nil || id.String() != s {
			t.Fatalf("ParseMatch(%s) = %v, %v", s, id, err)
		}
		ids = append(ids, id)
	}
	mixed := slices.Clone(ids)
	slices.Reverse(mixed)
	slices.SortFunc(mixed, record.MatchID.Compare)
	if diff := cmp.Diff(ids, mixed); diff != "" {
		t.Errorf("playing order (-want +got):\n%s", diff)
	}
	for _, s := range []string{"", "Q", "Q0", "Q01", "q1", "X1", "Q-1", "Q1 ", "Q10000", "1"} {
		if id, err := record.ParseMatch(s); err == nil {
			t.Errorf("ParseMatch(%q) = %v, want an error", s, id)
		}
	}
	if s := (record.MatchID{}).String(); s != "" {
		t.Errorf("no match is %q", s)
	}
}

func TestTeams(t *testing.T) {
	t.Parallel()
	for s, want := range map[string]bool{
		"1": true, "99999": true, "40117B": true, "": false, "0": false, "012": false, "100000": false, "12b": false, "B": false, "12BB": false, "1\n": false,
	} {
		if got := record.ValidTeam(s); got != want {
			t.Errorf("ValidTeam(%q) = %v", s, got)
		}
	}
	got := []record.TeamID{"905B", "48211", "905", "77", "905A"}
	slices.SortFunc(got, record.CompareTeams)
	if diff := cmp.Diff([]record.TeamID{"77", "905", "905A", "905B", "48211"}, got); diff != "" {
		t.Errorf("order (-want +got):\n%s", diff)
	}
}

func TestTapJSON(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]record.Tap{
		`[1200,"deck",1]`:           {MS: 1200, Action: "deck", Step: 1},
		`[0,"deck_missed",-1]`:      {Action: "deck_missed", Step: -1},
		`[1200,"deck",20,2.5,-0.5]`: {MS: 1200, Action: "deck", Step: 20, HasXY: true, X: 2.5, Y: -0.5},
	} {
		var got record.Tap
		if err := json.Unmarshal([]byte(text), &got); err != nil || got != want {
			t.Errorf("%s = %+v, %v", text, got, err)
		}
		if back, err := json.Marshal(got); err != nil || string(back) != text {
			t.Errorf("%s was written as %s, %v", text, back, err)
		}
	}
	for _, text := range []string{`[1,"deck"]`, `[1,"deck",1,2]`, `[1,"deck",1,2,3,4]`, `["1","deck",1]`, `[1.5,"deck",1]`, `{}`, `[1,2,3]`} {
		if err := json.Unmarshal([]byte(text), new(record.Tap)); err == nil {
			t.Errorf("%s was taken", text)
		}
	}
}

func TestAnswerJSON(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]game.Answer{
		`12.5`: {Number: new(12.5)}, `true`: {Flag: new(true)}, `"left"`: {Text: new("left")}, `""`: {Text: new("")},
	} {
		var got game.Answer
		if err := json.Unmarshal([]byte(text), &got); err != nil {
			t.Errorf("%s: %v", text, err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", text, diff)
		}
		if back, err := json.Marshal(got); err != nil || string(back) != text {
			t.Errorf("%s was written as %s, %v", text, back, err)
		}
	}
	for _, text := range []string{`[]`, `{}`} {
		if err := json.Unmarshal([]byte(text), new(game.Answer)); err == nil {
			t.Errorf("%s was taken", text)
		}
	}
}

func TestCheckCount(t *testing.T) {
	t.Parallel()
	for n, ok := range map[float64]bool{0: true, 1: true, 999: true, 1000: false, -1: false, 0.5: false, 1e300: false, math.Inf(1): false, math.Inf(-1): false, math.NaN(): false} {
		if err := record.CheckCount(n); (err == nil) != ok {
			t.Errorf("CheckCount(%g) = %v", n, err)
		}
	}
	if record.CheckCount(math.NaN()) == nil || record.CheckScore(math.NaN()) == nil || record.CheckScore(math.Inf(-1)) == nil || record.CheckScore(-12.5) != nil {
		t.Error("CheckScore takes what is no number, or not what is one")
	}
}

func TestResultBody(t *testing.T) {
	t.Parallel()
	m := record.Match{ID: record.MatchID{Stage: record.Qualification, Number: 3}, Play: 2, Blue: record.Alliance{
		Teams: []record.TeamID{"1", "2"}, Absent: []record.TeamID{"2"}, Cards: []record.TeamID{"1"},
		Result: &record.Result{Score: 50, FromFouls: new(4.0), Components: map[string]float64{"loads": 3}, RankingPoints: new(1.0), Robots: map[string][]string{"ramp": {"top", ""}}},
	}}
	if record.BodyOf(&m, record.Red) != nil {
		t.Error("red was not played and has a body")
	}
	body := record.BodyOf(&m, record.Blue)
	text, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	if problems := record.CheckBody(load(t, "millrace.json"), record.KindResult, text); len(problems) > 0 {
		t.Errorf("%s: %v", text, problems)
	}
	got := record.Alliance{Teams: m.Blue.Teams}
	body.Apply(&got)
	if diff := cmp.Diff(m.Blue, got); diff != "" {
		t.Errorf("Apply (-want +got):\n%s", diff)
	}
	body.Discarded = true
	body.Apply(&got)
	if diff := cmp.Diff(record.Alliance{Teams: m.Blue.Teams}, got); diff != "" {
		t.Errorf("discarded (-want +got):\n%s", diff)
	}
}

// FuzzCheckBody: no body makes the check panic; what it takes can be decoded,
// and problems are told on one line.
func FuzzCheckBody(f *testing.F) {
	kinds := []string{record.KindObservation, record.KindResult, record.KindMark, record.KindList, record.KindEntry, record.KindNote, "weather"}
	for i, body := range []string{
		`{"match":"Q1","team":"41","scout":"a","counts":{"sack":{"made":1,"missed":0}},"choices":{"ramp":{"option":"top","tried":true}},"answers":{"halted":3},"taps":[[1,"ramp:top",1,2,3]]}`,
		`{"match":"Q1","play":2,"alliance":"red","score":-5.5,"robots":{"ramp":["top",""]},"absent":["41"]}`,
		`{"team":"41","match":"Q1","kind":"repaired"}`, `{"name":"First picks","purpose":null}`,
		`{"list":"018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f","team":"41","key":"a0","tier":1,"never":false}`, `{"text":"x","match":"Q1"}`, `{}`,
	} {
		f.Add(byte(i), []byte(body))
	}
	g := load(f, "millrace.json")
	f.Fuzz(func(t *testing.T, which byte, body []byte) {
		kind := kinds[int(which)%len(kinds)]
		problems := record.CheckBody(g, kind, body)
		for _, p := range problems {
			if p.Message == "" || strings.Contains(p.String(), "\n") {
				t.Errorf("problem %q", p.String())
			}
		}
		if len(problems) > 0 {
			return
		}
		into := map[string]any{
			record.KindObservation: new(record.Observation), record.KindResult: new(record.ResultBody), record.KindMark: new(record.Mark),
			record.KindList: new(record.ListBody), record.KindEntry: new(record.EntryBody), record.KindNote: new(record.NoteBody),
		}[kind]
		if err := json.Unmarshal(body, into); err != nil {
			t.Errorf("CheckBody took what cannot be read: %v", err)
		}
	})
}

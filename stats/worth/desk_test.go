package worth

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"sextant/stats/record"
	"sextant/stats/selection"
)

// asked is a board of an event with what a device knows and asks about it.
func asked(t testing.TB, s *sample, picks int) (b *selection.Board, knowledge, question []byte) {
	t.Helper()
	k, err := Share(s.fit, nil)
	if err != nil {
		t.Fatal(err)
	}
	if knowledge, err = json.Marshal(k); err != nil {
		t.Fatal(err)
	}
	b = s.board(t, picks)
	turn, _ := b.Turn()
	q := Question{Our: turn.Captain, Ranking: s.ranking, Never: s.ranking[20:21], Pins: []Pin{{Captain: s.ranking[5], Team: s.ranking[11], Kind: Wants}}, Runs: 224, SE: 1e-9}
	start := s.board(t, 0)
	for range picks {
		on, _ := start.Turn()
		m := selection.Move{Captain: on.Captain, Invites: start.Pool()[0], Answer: selection.Accepts}
		q.Moves = append(q.Moves, m, m) // the second is against the rules
		if err := start.Move(m); err != nil {
			t.Fatal(err)
		}
	}
	if question, err = json.Marshal(q); err != nil {
		t.Fatal(err)
	}
	return b, knowledge, question
}

// full answer of the server's way.
func served(t testing.TB, s *sample, b *selection.Board) *record.Advice {
	t.Helper()
	turn, _ := b.Turn()
	e := evaluation(t, s, b, Options{Our: turn.Captain, Never: s.ranking[20:21], Pins: []Pin{{Captain: s.ranking[5], Team: s.ranking[11], Kind: Wants}}, Seed: UsualSeed})
	a, err := e.Refine(context.Background(), 1e-9, 224, nil)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// TestDesk: what was sent to another device as text gives the very same advice there.
func TestDesk(t *testing.T) {
	t.Parallel()
	s := small()
	b, knowledge, question := asked(t, s, 3)
	d, err := NewDesk(knowledge)
	if err != nil {
		t.Fatal(err)
	}
	if _, done, err := d.Refine(); err == nil || !done {
		t.Errorf("an answer to no question: %v", err)
	}
	if err := d.Ask(question); err != nil {
		t.Fatal(err)
	}
	var text []byte
	batches := 0
	for done := false; !done; batches++ {
		if text, done, err = d.Refine(); err != nil {
			t.Fatal(err)
		}
	}
	var got record.Advice
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	if diff := gocmp.Diff(served(t, s, b), &got); diff != "" || batches != 3 {
		t.Errorf("%d batches: %s", batches, diff)
	}
}

func TestDeskRefuses(t *testing.T) {
	t.Parallel()
	s := small()
	_, knowledge, _ := asked(t, s, 0)
	change := func(edit func(k map[string]any, p map[string]any)) []byte {
		var k map[string]any
		if err := json.Unmarshal(knowledge, &k); err != nil {
			t.Fatal(err)
		}
		edit(k, k["posterior"].(map[string]any))
		text, err := json.Marshal(k)
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	for name, text := range map[string][]byte{
		"Form":      []byte("{"),
		"Nothing":   []byte("{}"),
		"Game":      change(func(k, _ map[string]any) { k["game"] = map[string]any{"id": "x"} }),
		"Teams":     change(func(_, p map[string]any) { p["teams"] = []string{"1"} }),
		"Row":       change(func(_, p map[string]any) { p["cov"].([]any)[3] = []float64{1} }),
		"Component": change(func(_, p map[string]any) { p["components"] = []float64{1} }),
		"Scale":     change(func(_, p map[string]any) { p["scale"] = 0 }),
	} {
		if _, err := NewDesk(text); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	d, err := NewDesk(knowledge)
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"Form": "{", "Ranking": `{"our": "40101"}`, "Our": fmt.Sprintf(`{"our": "99999", "ranking": [%q]}`, strings.Join(teamTexts(s.ranking), `","`))} {
		if d.Ask([]byte(text)) == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func teamTexts(teams []record.TeamID) (out []string) {
	for _, t := range teams {
		out = append(out, string(t))
	}
	return out
}

// inNode builds cmd/worthwasm as deploy/lib.sh does and returns what one
// question brings there: JSON of the last advice and of milliseconds.
func inNode(t testing.TB, knowledge, question []byte) *nodeAnswer {
	t.Helper()
	dir := t.TempDir()
	wasm := filepath.Join(dir, "worth.wasm")
	build := exec.Command("go", "build", "-trimpath", "-ldflags=-s -w", "-o", wasm, "sextant/cmd/worthwasm")
	build.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm", "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build for js/wasm: %v\n%s", err, out)
	}
	for name, text := range map[string][]byte{"knowledge.json": knowledge, "question.json": question} {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	node := exec.Command("node", "testdata/desk.mjs", filepath.Join(strings.TrimSpace(string(root)), "lib", "wasm", "wasm_exec.js"), dir)
	node.Stderr = os.Stderr
	text, err := node.Output()
	if err != nil {
		t.Fatalf("node: %v", err)
	}
	var out nodeAnswer
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	return &out
}

type nodeAnswer struct {
	Advice         record.Advice
	Ready          float64 // milliseconds until it knew the robots
	First, Settled float64 // milliseconds from the question to the first and the last advice
}

// TestSameNumbersInABrowser: the program that the app's worker runs gives the
// same advice as the server. Both round differently in the last digits, since
// processors do: exp and log are others there.
func TestSameNumbersInABrowser(t *testing.T) {
	t.Parallel()
	s := small()
	b, knowledge, question := asked(t, s, 3)
	got := inNode(t, knowledge, question)
	if diff := gocmp.Diff(served(t, s, b), &got.Advice, cmpopts.EquateApprox(0, 1e-6)); diff != "" {
		t.Errorf("in a browser: %s", diff)
	}
	if math.IsNaN(got.Settled) || len(got.Advice.Candidates) == 0 {
		t.Errorf("%+v", got)
	}
}

// BenchmarkInABrowser is BenchmarkSelect in Node's engine, the one of Chromium.
func BenchmarkInABrowser(b *testing.B) {
	s := full()
	_, knowledge, question := asked(b, s, 2)
	var q map[string]any
	if err := json.Unmarshal(question, &q); err != nil {
		b.Fatal(err)
	}
	q["se"], q["runs"] = 0.005, 4000
	question, err := json.Marshal(q)
	if err != nil {
		b.Fatal(err)
	}
	var out *nodeAnswer
	for b.Loop() {
		out = inNode(b, knowledge, question)
	}
	b.ReportMetric(out.Ready, "ready-ms")
	b.ReportMetric(out.First, "first-ms")
	b.ReportMetric(out.Settled, "settled-ms")
	b.ReportMetric(float64(out.Advice.Runs), "worlds")
	b.ReportMetric(float64(len(knowledge))/1000, "knowledge-kB")
	runtime.KeepAlive(out)
}

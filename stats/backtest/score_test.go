package backtest

import (
	"encoding/json"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"testing"

	"sextant/stats/game"
	"sextant/stats/record"
)

func reference(t *testing.T, name string, into any) {
	t.Helper()
	body, err := os.ReadFile(filepath.Join("..", "..", "testdata", "reference", "worked_examples", name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(body, into); err != nil {
		t.Fatal(err)
	}
}

// Against numeric integration with 50 digits; the file names the closed form's source.
func TestCRPSReference(t *testing.T) {
	t.Parallel()
	var file struct {
		Cases []struct {
			Mean, SD, Observation float64
			Integral              float64 `json:"by_integration"`
		}
	}
	reference(t, "crps_normal.json", &file)
	if len(file.Cases) < 10 {
		t.Fatalf("%d cases: the file is not what it was", len(file.Cases))
	}
	for _, c := range file.Cases {
		if got := CRPS(c.Mean, c.SD, c.Observation); math.Abs(got-c.Integral) > 1e-12*math.Max(1, c.Integral) {
			t.Errorf("N(%v, %v) at %v: %v, want %v", c.Mean, c.SD, c.Observation, got, c.Integral)
		}
	}
	if got := CRPS(3, 0, 5); got != 2 {
		t.Errorf("without any doubt it is the distance: %v, want 2", got)
	}
}

// Murphy (1973); worked by hand in exact fractions, see the file's SOURCE.md.
func TestDecomposeReference(t *testing.T) {
	t.Parallel()
	var file struct {
		Forecasts []struct {
			Probability   string
			Cases, Events int
		}
		Decimal struct{ Brier, Reliability, Resolution, Uncertainty float64 }
	}
	reference(t, "brier.json", &file)
	var p, o []float64
	for _, f := range file.Forecasts {
		r, _ := new(big.Rat).SetString(f.Probability)
		v, _ := r.Float64()
		for k := range f.Cases {
			won := 0.0
			if k < f.Events {
				won = 1
			}
			p, o = append(p, v), append(o, won)
		}
	}
	rel, res, unc := Decompose(p, o, 10)
	for what, pair := range map[string][2]float64{
		"reliability": {rel, file.Decimal.Reliability}, "resolution": {res, file.Decimal.Resolution},
		"uncertainty": {unc, file.Decimal.Uncertainty}, "sum": {rel - res + unc, file.Decimal.Brier},
	} {
		if math.Abs(pair[0]-pair[1]) > 1e-14 {
			t.Errorf("%s %v, want %v", what, pair[0], pair[1])
		}
	}
}

// Which ranking points an official result shows, and which it does not.
func TestGained(t *testing.T) {
	t.Parallel()
	g := &game.Game{Values: map[string]float64{"full": 20}}
	least := func(id, name string) game.Condition {
		return game.Condition{Component: id, AtLeast: &game.Value{Name: name, Number: 14}}
	}
	m := &record.Match{}
	m.Red.Result = &record.Result{Score: 50, Components: map[string]float64{"barrels": 20, "finish": 13}}
	m.Blue.Result = &record.Result{Score: 50, Components: map[string]float64{"barrels": 21}}
	for name, c := range map[string]struct {
		when       game.Condition
		got, known bool
	}{
		"Win":        {game.Condition{Outcome: "win"}, false, true},
		"Tie":        {game.Condition{Outcome: "tie"}, true, true},
		"NamedValue": {least("barrels", "full"), true, true},
		"Number":     {least("finish", ""), false, true},
		"NotTold":    {least("other", ""), false, false},
		"More":       {game.Condition{Component: "barrels", MoreThan: "opponent"}, false, true},
		"Alliance":   {game.Condition{Both: "signal"}, false, false},
		"AnyHeld":    {game.Condition{Any: []game.Condition{{Both: "signal"}, least("barrels", "full")}}, true, true},
		"AnyOpen":    {game.Condition{Any: []game.Condition{{Both: "signal"}, least("finish", "")}}, false, false},
		"AllFailed":  {game.Condition{All: []game.Condition{{Both: "signal"}, least("finish", "")}}, false, true},
		"AllOpen":    {game.Condition{All: []game.Condition{{Both: "signal"}, least("barrels", "full")}}, true, false},
	} {
		t.Run(name, func(t *testing.T) {
			got, known := m.Gained(g, &c.when, record.Red)
			if known != c.known || known && got != c.got {
				t.Errorf("gained %v, known %v; want %v, %v", got, known, c.got, c.known)
			}
		})
	}
}

func TestSummarizeTiers(t *testing.T) {
	t.Parallel()
	var matches []Match
	for i := range 4 {
		m := Match{RedScore: 30, BlueScore: 100}
		m.Red = record.ScoreSpread{Mean: 20 + float64(i), SD: 10, P10: 10, P90: 40}
		m.Blue = record.ScoreSpread{Mean: 110 + float64(i), SD: 10, P10: 105, P90: 120}
		matches = append(matches, m)
	}
	s := Summarize(matches)
	want := Tier{Alliances: 2, Bias: 9.5, Coverage80: 1}
	if s.Weakest != want {
		t.Errorf("weakest %+v, want %+v", s.Weakest, want)
	}
	if want = (Tier{Alliances: 2, Bias: -12.5}); s.Strongest != want {
		t.Errorf("strongest %+v, want %+v", s.Strongest, want)
	}
	if s.Coverage50 != 0 || s.Coverage95 != 1 {
		t.Errorf("coverage of 50 and 95 %%: %v and %v, want 0 and 1", s.Coverage50, s.Coverage95)
	}
}

// Every estimator walks; only the estimate of the program draws ranking points.
func TestRunEstimators(t *testing.T) {
	t.Parallel()
	ev := invented(3, 24, 0.9)
	seen := map[float64]string{}
	for _, name := range []string{"fused", "mixed", "least_squares", "averages"} {
		r := mustRun(t, ev, Options{From: 0.5, Estimator: name})
		if s := r.Summary; s.Forecast != 12 || s.Brier <= 0 || s.Brier > 0.5 || math.IsNaN(s.LogLoss+s.ScoreMAE+s.CRPS) {
			t.Errorf("%s: %+v", name, s)
		}
		if other, twice := seen[r.Summary.Brier]; twice {
			t.Errorf("%s and %s forecast the same", name, other)
		}
		seen[r.Summary.Brier] = name
	}
	if _, err := Run(ev, Options{From: 0.5, Estimator: "tea_leaves"}); err == nil {
		t.Error("an estimator that there is not was taken")
	}
}

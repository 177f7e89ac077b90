package backtest

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/contrib"
	"sextant/stats/contrib/contribtest"
	"sextant/stats/forecast"
	"sextant/stats/record"
)

// Murphy (1973) and exact fractions; see the file's SOURCE.md.
func TestScoresWorkedExample(t *testing.T) {
	t.Parallel()
	body, err := os.ReadFile(filepath.Join("..", "..", "testdata", "reference", "worked_examples", "brier.json"))
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Forecasts []struct {
			Probability   string
			Cases, Events int
		}
		Decimal struct {
			Brier   float64
			LogLoss float64 `json:"mean_log_loss"`
		}
		WithTies struct {
			Rows []struct {
				Red     float64 `json:"red_win"`
				Blue    float64 `json:"blue_win"`
				Tie     float64 `json:"tie"`
				Outcome float64 `json:"outcome"`
			}
			Mean float64 `json:"mean_decimal"`
		} `json:"with_ties"`
	}
	if err := json.Unmarshal(body, &file); err != nil {
		t.Fatal(err)
	}
	game := func(red, blue, tie, outcome float64) Match {
		m := Match{RedScore: 10 * outcome, BlueScore: 10 * (1 - outcome)}
		m.Chance = record.Chance{Red: red, Blue: blue, Tie: tie}
		return m
	}
	var plain []Match
	for _, f := range file.Forecasts {
		r, ok := new(big.Rat).SetString(f.Probability)
		if !ok {
			t.Fatal(f.Probability)
		}
		p, _ := r.Float64()
		for k := range f.Cases {
			won := 0.0
			if k < f.Events {
				won = 1
			}
			plain = append(plain, game(p, 1-p, 0, won))
		}
	}
	if len(plain) != 20 {
		t.Fatalf("%d forecasts, want 20", len(plain))
	}
	got := Summarize(plain)
	if file.Decimal.Brier != 3.0/16 || math.Abs(got.Brier-3.0/16) > 1e-15 {
		t.Errorf("Brier score %v, want 3/16", got.Brier)
	}
	if math.Abs(got.LogLoss-file.Decimal.LogLoss) > 1e-14 {
		t.Errorf("log loss %v, want %v", got.LogLoss, file.Decimal.LogLoss)
	}
	// By hand: on the right side are 4 of 5, 3 of 5, 3 of 4 and 5 of 6.
	if math.Abs(got.Correct-0.75) > 1e-15 {
		t.Errorf("correct %v, want 15/20", got.Correct)
	}
	var ties []Match
	for _, r := range file.WithTies.Rows {
		ties = append(ties, game(r.Red, r.Blue, r.Tie, r.Outcome))
	}
	if got := Summarize(ties).Brier; math.Abs(got-file.WithTies.Mean) > 1e-15 {
		t.Errorf("Brier score with ties %v, want %v", got, file.WithTies.Mean)
	}
}

func TestScoresByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ p, o, brier, loss, correct float64 }{
		{0.5, 1, 0.25, math.Ln2, 0.5},
		{0.5, 0.5, 0, math.Ln2, 0.5},
		{0.9, 0.5, 0.16, -(math.Log(0.9) + math.Log(0.1)) / 2, 0.5},
		{1, 1, 0, -math.Log(0.999), 1},
		{1, 0, 1, -math.Log(0.001), 0}, // sure and wrong: clipped
		{0.2, 0, 0.04, -math.Log(0.8), 1},
	} {
		if b := Brier(c.p, c.o); math.Abs(b-c.brier) > 1e-12 {
			t.Errorf("Brier(%v, %v) = %v, want %v", c.p, c.o, b, c.brier)
		}
		if l := LogLoss(c.p, c.o); math.Abs(l-c.loss) > 1e-12 {
			t.Errorf("LogLoss(%v, %v) = %v, want %v", c.p, c.o, l, c.loss)
		}
		if k := correct(c.p, c.o); k != c.correct {
			t.Errorf("correct(%v, %v) = %v, want %v", c.p, c.o, k, c.correct)
		}
	}
	m := Match{RedScore: 90, BlueScore: 61}
	m.Red = record.ScoreSpread{Mean: 80, P10: 70, P90: 90}
	m.Blue = record.ScoreSpread{Mean: 75, P10: 62, P90: 88}
	if s := Summarize([]Match{m}); s.Coverage80 != 0.5 || s.ScoreMAE != 12 {
		t.Errorf("coverage %v, MAE %v; want 0.5 (an end belongs to the interval) and 12", s.Coverage80, s.ScoreMAE)
	}
}

func invented(seed uint64, matches int, watched float64) *record.Event {
	return contribtest.New(rand.New(rand.NewPCG(seed, 31)), contribtest.Options{
		Robots: 18, Matches: matches, Watched: watched, Noise: 1, Fouls: true, Stops: true,
	}).Event
}

func mustRun(t testing.TB, ev *record.Event, opt Options) *Report {
	t.Helper()
	r, err := Run(ev, opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Change the future, and no forecast before it moves: not by a digit.
func TestRunLeaksNothing(t *testing.T) {
	t.Parallel()
	for _, ahead := range []int{0, 3} {
		ev := invented(1, 30, 0.8)
		ev.Marks = []record.Mark{{Team: ev.Teams[2].ID, Match: ev.Matches[9].ID, Kind: "changed"}}
		want := mustRun(t, ev, Options{From: 0.25, Ahead: ahead})
		const now = 18 // the match whose own result, and all later ones, are rewritten
		other := &record.Event{Game: ev.Game, Teams: ev.Teams, Marks: slices.Clone(ev.Marks)}
		for i, m := range ev.Matches {
			if i >= now {
				foul := 40.0
				m.Red.Result = &record.Result{Score: float64(7 * i), FromFouls: &foul}
				m.Blue.Result = &record.Result{Score: 400}
				m.Red.Absent, m.Blue.Cards = m.Red.Teams[:2], m.Blue.Teams
			}
			other.Matches = append(other.Matches, m)
		}
		for _, o := range ev.Observations {
			if o.Match.Number > now {
				made := 77.0
				o.Counts = map[string]record.Tally{"high": {Made: &made, Missed: &made}}
				o.Absent = o.Match.Number%2 == 0
			}
			other.Observations = append(other.Observations, o)
		}
		for _, m := range ev.Matches[now:] {
			other.Marks = append(other.Marks, record.Mark{Team: m.Red.Teams[0], Match: m.ID, Kind: "substitute"})
		}
		got := mustRun(t, other, Options{From: 0.25, Ahead: ahead})
		moved := false
		for i := range want.Matches {
			same := cmp.Equal(want.Matches[i].Forecast, got.Matches[i].Forecast)
			// The first to know match now (number now+1) is ahead matches after the next.
			if want.Matches[i].Match.Number <= now+1+ahead {
				if !same {
					t.Errorf("ahead %d: the forecast of %s knew of the future:\n%s", ahead, want.Matches[i].Match, cmp.Diff(want.Matches[i].Forecast, got.Matches[i].Forecast))
				}
			} else {
				moved = moved || !same
			}
		}
		if !moved {
			t.Errorf("ahead %d: no later forecast moved: the test changes nothing", ahead)
		}
	}
}

// A backtest's last forecast is what a forecast before that match says, when
// the components are those of the last refit.
func TestRunIsForecastBeforeTheMatch(t *testing.T) {
	t.Parallel()
	ev := invented(2, 20, 0.8)
	report := mustRun(t, ev, Options{From: 0.25})
	const refit, at = 14, 17 // 70 % of 20 are known before Q15
	components := estimateFrom(t, ev, refit, nil).Components()
	fit := estimateFrom(t, ev, at, &components)
	want, err := forecast.Match(fit, &ev.Matches[at])
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, report.Matches[at-5].Forecast); diff != "" {
		t.Errorf("forecast of Q%d (-from an estimate +from the backtest):\n%s", at+1, diff)
	}
}

func estimateFrom(t *testing.T, ev *record.Event, known int, keep *contrib.Components) *contrib.Fit {
	t.Helper()
	part := &record.Event{Game: ev.Game, Teams: ev.Teams, Matches: ev.Matches[:known]}
	for _, o := range ev.Observations {
		if o.Match.Number <= known {
			part.Observations = append(part.Observations, o)
		}
	}
	fit, err := contrib.Estimate(part, contrib.Options{Components: keep})
	if err != nil {
		t.Fatal(err)
	}
	return fit
}

func TestDueRefit(t *testing.T) {
	t.Parallel()
	var changes []int
	last := dueRefit(0, 120)
	for known := range 121 {
		if due := dueRefit(known, 120); due != last {
			changes = append(changes, known)
			last = due
		}
	}
	if diff := cmp.Diff([]int{30, 42, 60, 84}, changes); diff != "" {
		t.Errorf("refits of 120 matches, 25, 35, 50 and 70 %%:\n%s", diff)
	}
}

func TestRunSkips(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		matches            int
		opt                Options
		forecasts, skipped int
		first              string
	}{
		{20, Options{From: 0.25}, 15, 5, "Q6"},
		{10, Options{From: 0.25}, 7, 3, "Q4"}, // 2.5 matches are a quarter: three are learned from
		{20, Options{From: 0.35}, 13, 7, "Q8"},
		{10, Options{From: 0}, 9, 1, "Q2"}, // nothing is known before the first
		{10, Options{From: 0, Ahead: 3}, 6, 4, "Q5"},
		{10, Options{From: 0.5, Ahead: 8}, 1, 9, "Q10"}, // Q6 to Q9 would know of nothing
		{10, Options{From: 0.9}, 1, 9, "Q10"},
	} {
		r := mustRun(t, invented(3, c.matches, 0), c.opt)
		if r.Summary.Forecast != c.forecasts || r.Summary.Skipped != c.skipped || len(r.Matches) != c.forecasts || r.Matches[0].Match.String() != c.first {
			t.Errorf("%d matches, %+v: %d forecasts from %s, %d skipped; want %d from %s, %d",
				c.matches, c.opt, r.Summary.Forecast, r.Matches[0].Match, r.Summary.Skipped, c.forecasts, c.first, c.skipped)
		}
	}
}

func TestRunRefuses(t *testing.T) {
	t.Parallel()
	ev := invented(4, 10, 0)
	for _, opt := range []Options{{From: -0.1}, {From: 1.1}, {From: math.NaN()}, {Ahead: -1}} {
		if _, err := Run(ev, opt); err == nil || errors.Is(err, ErrTooFew) {
			t.Errorf("%+v: error %v", opt, err)
		}
	}
	for name, ev := range map[string]*record.Event{"OneMatch": invented(4, 1, 0), "None": {Game: contribtest.Game()}} {
		if _, err := Run(ev, Options{}); !errors.Is(err, ErrTooFew) {
			t.Errorf("%s: error %v, want ErrTooFew", name, err)
		}
	}
	if _, err := Run(ev, Options{From: 1}); !errors.Is(err, ErrTooFew) {
		t.Errorf("all are only learned from: error %v, want ErrTooFew", err)
	}
}

// Unplayed matches, practice, a replay: each match is forecast once, with the
// result that counts, in playing order.
func TestRunOrderAndReplays(t *testing.T) {
	t.Parallel()
	ev := invented(5, 12, 0.5)
	practice, final := ev.Matches[0], ev.Matches[1]
	practice.ID = record.MatchID{Stage: record.Practice, Number: 3}
	final.ID = record.MatchID{Stage: record.Final, Number: 1}
	again := ev.Matches[6]
	again.Play = 2
	again.Red.Result = &record.Result{Score: 123}
	unplayed := ev.Matches[9]
	unplayed.Red.Result = nil
	ev.Matches[9] = unplayed
	ev.Matches = append([]record.Match{final, again, practice}, ev.Matches...)
	r := mustRun(t, ev, Options{From: 0})
	var order []string
	for _, m := range r.Matches {
		order = append(order, m.Match.String())
		if m.Match.String() == "Q7" && m.RedScore != 123 {
			t.Errorf("Q7 was replayed: red has %v, want 123", m.RedScore)
		}
	}
	want := []string{"Q1", "Q2", "Q3", "Q4", "Q5", "Q6", "Q7", "Q8", "Q9", "Q11", "Q12", "F1"}
	if diff := cmp.Diff(want, order); diff != "" {
		t.Errorf("order of forecasts (-want +got):\n%s", diff)
	}
}

func TestRunJSON(t *testing.T) {
	t.Parallel()
	r := mustRun(t, invented(6, 8, 0), Options{From: 0.5})
	body, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err) // NaN has no JSON
	}
	var got struct {
		Matches []map[string]any
		Summary map[string]any
	}
	if err := json.Unmarshal(body, &got); err != nil {
		t.Fatal(err)
	}
	keys := func(m map[string]any) (out []string) {
		for k := range m {
			out = append(out, k)
		}
		slices.Sort(out)
		return out
	}
	if diff := cmp.Diff([]string{"blue", "blue_score", "chance", "match", "red", "red_score"}, keys(got.Matches[0])); diff != "" {
		t.Error(diff)
	}
	for _, k := range []string{"brier", "correct", "coverage80", "forecast", "log_loss", "score_mae", "skipped"} {
		if _, ok := got.Summary[k]; !ok {
			t.Errorf("the summary has no %s: %v", k, keys(got.Summary))
		}
	}
	red := got.Matches[0]["red"].(map[string]any)
	if diff := cmp.Diff([]string{"mean", "p10", "p90", "sd"}, keys(red)); diff != "" {
		t.Error(diff)
	}
	if got.Matches[0]["match"] != "Q5" {
		t.Errorf("match is %v, want Q5", got.Matches[0]["match"])
	}
}

// The whole chain is calibrated on events that it was not tuned on: 80 %
// intervals hold about 80 % of the scores, for weak and for strong alliances,
// chances are better than a coin's, and records help.
func TestRunIsCalibrated(t *testing.T) {
	t.Parallel()
	type tally struct{ brier, mae, in, below, above, n float64 }
	run := func(watched float64) (all tally, weak, strong float64) {
		var means []float64
		var hits []bool
		const events = 4
		for seed := range uint64(events) {
			w := contribtest.New(rand.New(rand.NewPCG(seed, 41)), contribtest.Options{
				Robots: 36, Matches: 72, Watched: watched, Twice: 0.05, Blank: 0.03, Noise: 1, Fouls: true, Stops: true,
			})
			r := mustRun(t, w.Event, Options{From: 0.25})
			all.brier += r.Summary.Brier / events
			all.mae += r.Summary.ScoreMAE / events
			for _, m := range r.Matches {
				for _, s := range []struct {
					record.ScoreSpread
					score float64
				}{{m.Red, m.RedScore}, {m.Blue, m.BlueScore}} {
					hit := s.P10 <= s.score && s.score <= s.P90
					means, hits = append(means, s.Mean), append(hits, hit)
					all.n++
					switch {
					case hit:
						all.in++
					case s.score < s.P10:
						all.below++
					default:
						all.above++
					}
				}
			}
		}
		sorted := slices.Clone(means)
		slices.Sort(sorted)
		var w, s, nw, ns float64
		for i, m := range means {
			in := 0.0
			if hits[i] {
				in = 1
			}
			if m < sorted[len(sorted)/4] {
				w, nw = w+in, nw+1
			} else if m > sorted[3*len(sorted)/4] {
				s, ns = s+in, ns+1
			}
		}
		return all, w / nw, s / ns
	}
	totals, weak, strong := run(0)
	watched, weakSeen, strongSeen := run(0.95)
	for what, x := range map[string]struct {
		tally
		weak, strong float64
	}{"totals": {totals, weak, strong}, "records": {watched, weakSeen, strongSeen}} {
		cover := x.in / x.n
		t.Logf("%s: Brier %.3f, MAE %.1f, coverage %.3f (weak %.2f, strong %.2f), below %.3f, above %.3f", what, x.brier, x.mae, cover, x.weak, x.strong, x.below/x.n, x.above/x.n)
		if cover < 0.77 || cover > 0.87 {
			t.Errorf("%s: 80 %% intervals hold %.3f of %v scores", what, cover, x.n)
		}
		if x.weak < 0.72 || x.strong < 0.72 {
			t.Errorf("%s: 80 %% intervals hold %.2f of weak and %.2f of strong alliances' scores", what, x.weak, x.strong)
		}
		if r := x.below / x.above; r < 0.5 || r > 2 {
			t.Errorf("%s: %v below and %v above the interval: it is not where the scores are", what, x.below, x.above)
		}
		if x.brier > 0.24 {
			t.Errorf("%s: Brier score %.3f, a coin has 0.25", what, x.brier)
		}
	}
	if watched.mae > totals.mae {
		t.Errorf("records make the scores' error %.2f, without them %.2f", watched.mae, totals.mae)
	}
}

func BenchmarkRun(b *testing.B) {
	for _, watched := range []float64{0, 0.95} {
		b.Run(fmt.Sprintf("Watched%.0f", 100*watched), func(b *testing.B) {
			ev := contribtest.New(rand.New(rand.NewPCG(1, 7)), contribtest.Options{
				Robots: 60, Matches: 120, Watched: watched, Twice: 0.05, Blank: 0.02, Noise: 1, Fouls: true, Stops: true,
			}).Event
			for b.Loop() {
				mustRun(b, ev, Options{From: 0.25})
			}
		})
	}
}

package judge

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"sextant/stats/game"
	"sextant/stats/record"
)

type paired struct {
	Robots      int
	Pairs       [][4]float64 // a, b, wins of a, wins of b
	Ties        []float64
	Ability, SE []float64 // against the first robot
}

type reference struct {
	Citations, Pairs paired
	Sets             struct {
		Robots      int
		Sets        [][]int
		Best, Worst []int
		Worth, SE   []float64
		Penalised   []float64
		PenalisedSE []float64 `json:"penalised_se"`
	}
}

func readReference(t *testing.T) reference {
	t.Helper()
	text, err := os.ReadFile("../../testdata/reference/judge/judge.json")
	if err != nil {
		t.Fatal(err)
	}
	var r reference
	if err := json.Unmarshal(text, &r); err != nil {
		t.Fatal(err)
	}
	return r
}

// flat is a prior that says next to nothing, for comparison with maximum
// likelihood.
const flat = 1e4

// TestPairs compares paired data with R's BradleyTerry2 (testdata/reference/judge/SOURCE.md).
func TestPairs(t *testing.T) {
	t.Parallel()
	r := readReference(t)
	for name, p := range map[string]paired{"Citations": r.Citations, "Ties": r.Pairs} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var choices []Choice
			for k, row := range p.Pairs {
				a, b := int(row[0]), int(row[1])
				for range int(row[2]) {
					choices = append(choices, Choice{Set: []int{a, b}, Best: a, Worst: b})
				}
				for range int(row[3]) {
					choices = append(choices, Choice{Set: []int{b, a}, Best: b, Worst: None})
				}
				if p.Ties != nil {
					for range int(p.Ties[k]) {
						choices = append(choices, Choice{Set: []int{a, b}, Best: None, Worst: None})
					}
				}
			}
			fit, err := Worths(p.Robots, choices, flat)
			if err != nil {
				t.Fatal(err)
			}
			againstFirst(t, fit, p.Ability, p.SE, 2e-5)
		})
	}
}

// TestSets compares best and worst of six with a conditional logit by R's glm,
// and with the normal prior by R's optim.
func TestSets(t *testing.T) {
	t.Parallel()
	r := readReference(t).Sets
	var choices []Choice
	for k, set := range r.Sets {
		choices = append(choices, Choice{Set: set, Best: r.Best[k], Worst: r.Worst[k]})
	}
	fit, err := Worths(r.Robots, choices, flat)
	if err != nil {
		t.Fatal(err)
	}
	againstFirst(t, fit, r.Worth, r.SE, 2e-5)

	if fit, err = Worths(r.Robots, choices, 1); err != nil {
		t.Fatal(err)
	}
	for i, want := range r.Penalised {
		if math.Abs(fit.Mean[i]-want) > 1e-4 || math.Abs(fit.SD(i)-r.PenalisedSE[i]) > 1e-3 {
			t.Errorf("robot %d: %.5f ± %.5f, R has %.5f ± %.5f", i, fit.Mean[i], fit.SD(i), want, r.PenalisedSE[i])
		}
	}
}

func againstFirst(t *testing.T, fit *Fit, worth, se []float64, close float64) {
	t.Helper()
	for i, want := range worth {
		k := i + 1
		got := fit.Mean[k] - fit.Mean[0]
		sd := math.Sqrt(fit.Cov.At(0, 0) + fit.Cov.At(k, k) - 2*fit.Cov.At(0, k))
		if math.Abs(got-want) > close || math.Abs(sd-se[i]) > close {
			t.Errorf("robot %d: %.6f ± %.6f, R has %.6f ± %.6f", k, got, sd, want, se[i])
		}
	}
}

// TestLittle: the scale is finite and says how little it knows.
func TestLittle(t *testing.T) {
	t.Parallel()
	all := []int{0, 1, 2, 3, 4, 5}
	tests := []struct {
		name    string
		n       int
		choices []Choice
		want    func(*Fit) bool
	}{
		{"Nobody", 0, nil, func(f *Fit) bool { return len(f.Mean) == 0 }},
		{"Nothing", 3, nil, func(f *Fit) bool { return f.Mean[1] == 0 && math.Abs(f.SD(1)-1) < 1e-12 }},
		{"One", 6, []Choice{{all, 2, 4}}, func(f *Fit) bool { return f.Mean[2] > 0 && f.Mean[4] < 0 && f.SD(2) < 1 && f.SD(2) > 0.8 }},
		{"AlwaysBest", 6, []Choice{{all, 2, 4}, {all, 2, 4}, {all, 2, 4}, {all, 2, 4}}, func(f *Fit) bool { return f.Mean[2] < 3 }},
		{"NoDifference", 6, []Choice{{all, None, None}, {all, None, None}}, func(f *Fit) bool { return math.Abs(f.Mean[2]) < 1e-9 && f.SD(2) < 1 }},
		{"BestOnly", 6, []Choice{{all, 2, None}}, func(f *Fit) bool { return f.Mean[2] > 0 && math.Abs(f.Mean[0]-f.Mean[5]) < 1e-9 }},
		{"WorstOnly", 6, []Choice{{all, None, 2}}, func(f *Fit) bool { return f.Mean[2] < 0 }},
		{"Alone", 2, []Choice{{[]int{1}, None, None}}, func(f *Fit) bool { return math.Abs(f.SD(1)-1) < 1e-12 }},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			fit, err := Worths(tt.n, tt.choices, 1)
			if err != nil {
				t.Fatal(err)
			}
			if !tt.want(fit) {
				t.Errorf("worths %v, first sd %v", fit.Mean, math.Sqrt(fit.Cov.At(0, 0)))
			}
		})
	}
	for _, c := range []Choice{{all, 2, 2}, {all, 7, None}, {[]int{0, 0}, 0, None}, {[]int{0, 9}, 0, None}} {
		if _, err := Worths(6, []Choice{c}, 1); err == nil {
			t.Errorf("%+v was taken", c)
		}
	}
}

// TestDerivatives compares gradient and curvature with differences.
func TestDerivatives(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 0))
	m := &problem{n: 5, ridge: 0.7, choices: []Choice{{[]int{0, 1, 2, 3}, 1, 3}, {[]int{1, 2, 4}, None, 4}, {[]int{0, 4}, None, None}, {[]int{4, 3, 2}, 2, None}}}
	u := make([]float64, m.n)
	for i := range u {
		u[i] = rng.NormFloat64()
	}
	fit, err := Worths(m.n, m.choices, 1/math.Sqrt(m.ridge))
	if err != nil {
		t.Fatal(err)
	}
	for i := range u {
		const h = 1e-5
		at := func(d float64) float64 {
			v := append([]float64(nil), fit.Mean...)
			v[i] += d
			return m.value(v)
		}
		if slope := (at(h) - at(-h)) / (2 * h); math.Abs(slope) > 1e-6 {
			t.Errorf("slope %g along robot %d at what is said to be the maximum", slope, i)
		}
	}
}

func testEvent(judgements ...record.Judgement) *record.Event {
	ev := &record.Event{Game: &game.Game{Questions: []game.Question{{ID: "driving", Kind: "best_worst", When: game.WhenJudgement}, {ID: "start", When: "match"}}}}
	for _, t := range []record.TeamID{"1", "2", "3", "4", "5", "6"} {
		ev.Teams = append(ev.Teams, record.Team{ID: t})
	}
	ev.Judgements = judgements
	return ev
}

// TestScales: ranks hold their intervals, order of arrival has no say, and what
// is not at the event or discarded is left out.
func TestScales(t *testing.T) {
	t.Parallel()
	six := []record.TeamID{"1", "2", "3", "4", "5", "6"}
	judged := func(n int, best, worst record.TeamID) record.Judgement {
		return record.Judgement{Match: record.MatchID{Stage: record.Qualification, Number: n}, Question: "driving", Scout: "s1", Teams: six, Best: best, Worst: worst}
	}
	gone := judged(9, "77", "1")
	gone.Teams = []record.TeamID{"77", "1", "2"}
	thrown := judged(8, "6", "3")
	thrown.Discarded = true
	other := judged(7, "6", "3")
	other.Question = "no-longer-there"
	var all []record.Judgement
	for i := range 8 {
		all = append(all, judged(i+1, "3", "6"))
	}
	all = append(all, gone, thrown, other)
	made := func(j []record.Judgement) record.JudgementScale {
		s, err := Scales(testEvent(j...), rand.New(rand.NewPCG(1, 0)))
		if err != nil || len(s) != 1 {
			t.Fatalf("%+v, %v", s, err)
		}
		return s[0]
	}
	s := made(all)
	if s.Judgements != 9 || len(s.Teams) != 6 || s.Teams[0].Team != "3" || s.Teams[5].Team != "6" || s.Scouts[0].Judgements != 9 {
		t.Fatalf("scale: %+v", s)
	}
	if best := s.Teams[0]; best.Best != 8 || best.RankLow != 1 || best.RankHigh > 2 {
		t.Errorf("called best eight times of eight: %+v", best)
	}
	for _, r := range s.Teams {
		if r.RankLow > r.Rank || r.RankHigh < r.Rank || r.RankLow < 1 || r.RankHigh > 6 {
			t.Errorf("rank %d is not within %d to %d", r.Rank, r.RankLow, r.RankHigh)
		}
	}
	if middle := s.Teams[2]; middle.RankHigh-middle.RankLow < 2 {
		t.Errorf("four robots that were never named apart: %+v", middle)
	}
	turned := append([]record.Judgement(nil), all...)
	for i, j := 0, len(turned)-1; i < j; i, j = i+1, j-1 {
		turned[i], turned[j] = turned[j], turned[i]
	}
	again := made(turned)
	for i := range s.Teams {
		if s.Teams[i] != again.Teams[i] {
			t.Errorf("in another order: %+v and %+v", s.Teams[i], again.Teams[i])
		}
	}
	if empty := made(nil); empty.Judgements != 0 || len(empty.Teams) != 0 {
		t.Errorf("of nothing: %+v", empty)
	}
}

// TestCoverage: with worths drawn from the prior, 80 % intervals of the rank
// and standard errors cover the truth about as often as they say.
func TestCoverage(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(21, 0))
	const robots, judgements, worlds = 24, 60, 40
	var within, inside, n float64
	for range worlds {
		truth := make([]float64, robots)
		for i := range truth {
			truth[i] = rng.NormFloat64()
		}
		var choices []Choice
		for range judgements {
			set := rng.Perm(robots)[:6]
			best := chosen(rng, truth, set, 1)
			choices = append(choices, Choice{Set: set, Best: best, Worst: chosen(rng, truth, without(set, best), -1)})
		}
		fit, err := Worths(robots, choices, 1)
		if err != nil {
			t.Fatal(err)
		}
		low, high := rankIntervals(fit, rng)
		for i := range truth {
			rank := 1
			for _, v := range truth {
				if v > truth[i] {
					rank++
				}
			}
			n++
			if rank >= low[i] && rank <= high[i] {
				inside++
			}
			if math.Abs(truth[i]-fit.Mean[i]) < fit.SD(i) {
				within++
			}
		}
	}
	// 0.683 and 0.80; an interval of whole ranks holds a little more.
	if within/n < 0.62 || within/n > 0.75 || inside/n < 0.76 || inside/n > 0.93 {
		t.Errorf("within one standard error %.3f, rank in its 80 %% interval %.3f", within/n, inside/n)
	}
}

func chosen(rng *rand.Rand, u []float64, set []int, sign float64) int {
	best, top := None, math.Inf(-1)
	for _, i := range set {
		// The largest of worth and Gumbel noise is a draw from the logit.
		if v := sign*u[i] - math.Log(-math.Log(rng.Float64())); v > top {
			best, top = i, v
		}
	}
	return best
}

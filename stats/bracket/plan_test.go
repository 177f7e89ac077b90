package bracket_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/bracket"
	"sextant/stats/game"
)

// table is testdata/double_elimination_8.json: the bracket as a table and three
// courses through it. Its source stands in the file: from memory, common
// practice, checked by a program of its own over all 2^13 courses.
type table struct {
	Matches []struct {
		Match, Round       int
		Bracket, Red, Blue string
	}
	Final struct {
		Red, Blue  string
		WinsNeeded int `json:"wins_needed"`
	}
	Courses []struct {
		Name    string
		Matches []struct{ Match, Red, Blue, Winner int }
		Final   struct {
			Red, Blue, Champion int
			Winners             []int
		}
		Places map[string]any
	}
}

func load(t testing.TB) table {
	t.Helper()
	data, err := os.ReadFile("testdata/double_elimination_8.json")
	if err != nil {
		t.Fatal(err)
	}
	var out table
	if err := json.Unmarshal(data, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

func format(t testing.TB, name string, alliances, final int) *bracket.Format {
	t.Helper()
	f, err := bracket.FormatOf(&game.Playoff{Format: name, FinalWins: final}, alliances)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestDoubleEliminationByTheTable(t *testing.T) {
	t.Parallel()
	ref := load(t)
	f := format(t, "double_elimination_8", 8, 2)
	if len(f.Series) != len(ref.Matches)+1 {
		t.Fatalf("%d series, want %d and a final", len(f.Series), len(ref.Matches))
	}
	for i, m := range ref.Matches {
		s := f.Series[i]
		if s.Red.String() != m.Red || s.Blue.String() != m.Blue || s.Round != fmt.Sprintf("%s %d", m.Bracket, m.Round) || s.Wins != 1 {
			t.Errorf("match %d: %+v, want %+v", m.Match, s, m)
		}
	}
	if s := f.Series[13]; s.Red.String() != ref.Final.Red || s.Blue.String() != ref.Final.Blue || s.Wins != ref.Final.WinsNeeded {
		t.Errorf("final: %+v, want %+v", s, ref.Final)
	}
	for _, course := range ref.Courses {
		t.Run(course.Name, func(t *testing.T) {
			t.Parallel()
			games := 0
			got := bracket.Walk(f, nil, func(i, red, blue int) bool {
				if i == 13 {
					games++
					if red+1 != course.Final.Red || blue+1 != course.Final.Blue {
						t.Errorf("final: %d and %d meet, want %+v", red+1, blue+1, course.Final)
					}
					return course.Final.Winners[games-1] == red+1
				}
				m := course.Matches[i]
				if red+1 != m.Red || blue+1 != m.Blue {
					t.Errorf("match %d: %d and %d meet, want %+v", i+1, red+1, blue+1, m)
				}
				return m.Winner == red+1
			}, nil)
			places := map[string][]int{}
			for a, p := range got {
				name := f.Places()[p].String()
				places[name] = append(places[name], a+1)
			}
			want := map[string][]int{}
			for name, v := range course.Places {
				if many, ok := v.([]any); ok {
					for _, a := range many {
						want[name] = append(want[name], int(a.(float64)))
					}
				} else {
					want[name] = []int{int(v.(float64))}
				}
			}
			if d := cmp.Diff(want, places); d != "" {
				t.Error(d)
			}
			if games != len(course.Final.Winners) {
				t.Errorf("the final took %d games, want %d", games, len(course.Final.Winners))
			}
		})
	}
}

// chances are random chances of a game between any two alliances.
func chances(rng *rand.Rand, n int) []float64 {
	out := make([]float64, n*n)
	for a := range n {
		for b := a + 1; b < n; b++ {
			q := rng.Float64()
			out[a*n+b], out[b*n+a] = q, 1-q
		}
	}
	return out
}

// enumerate goes through every course, game by game, by Walk alone.
func enumerate(f *bracket.Format, standings []*bracket.Standing, game []float64) [][]float64 {
	out := make([][]float64, f.Alliances)
	for a := range out {
		out[a] = make([]float64, len(f.Places()))
	}
	var script []bool
	for {
		chance, at := 1.0, 0
		places := bracket.Walk(f, standings, func(_, red, blue int) bool {
			if at == len(script) {
				script = append(script, true)
			}
			q := game[red*f.Alliances+blue]
			if !script[at] {
				q = 1 - q
			}
			chance *= q
			at++
			return script[at-1]
		}, nil)
		for a, p := range places {
			out[a][p] += chance
		}
		script = script[:at]
		for len(script) > 0 && !script[len(script)-1] {
			script = script[:len(script)-1]
		}
		if len(script) == 0 {
			return out
		}
		script[len(script)-1] = false
	}
}

func TestPlanAgainstEnumeration(t *testing.T) {
	t.Parallel()
	for k, tt := range []struct {
		name      string
		alliances int
	}{
		{"double_elimination_8", 8}, {"double_elimination_8", 7}, {"double_elimination_8", 5}, {"double_elimination_8", 2},
		{"single_elimination_2", 2}, {"single_elimination_4", 4}, {"single_elimination_4", 3}, {"single_elimination_8", 6},
		{"round_robin", 4}, {"round_robin", 2}, {"round_robin", 5},
	} {
		t.Run(tt.name+strconv.Itoa(tt.alliances), func(t *testing.T) {
			t.Parallel()
			f := format(t, tt.name, tt.alliances, 2)
			game := chances(rand.New(rand.NewPCG(uint64(k), 3)), tt.alliances)
			same(t, f, nil, game)
		})
	}
}

func same(t *testing.T, f *bracket.Format, standings []*bracket.Standing, game []float64) {
	t.Helper()
	plan, err := bracket.NewPlan(f, standings)
	if err != nil {
		t.Fatal(err)
	}
	got := plan.Chances()
	for range 2 { // the second run finds used memory
		plan.Run(game, got)
	}
	want := enumerate(f, standings, game)
	for a := range f.Alliances {
		one, err := bracket.NewPlanFor(f, standings, a)
		if err != nil {
			t.Fatal(err)
		}
		own := one.Chances()
		one.Run(game, own)
		for p := range plan.Places {
			if math.Abs(own.Place[a][p]-want[a][p]) > 1e-12 {
				t.Errorf("asked about alliance %d alone, place %s: %.6f, want %.6f", a+1, plan.Places[p], own.Place[a][p], want[a][p])
			}
		}
	}
	sums := make([]float64, len(plan.Places))
	for a := range want {
		for p := range want[a] {
			sums[p] += got.Place[a][p]
			if math.Abs(got.Place[a][p]-want[a][p]) > 1e-12 {
				t.Errorf("alliance %d, place %s: %.6f, want %.6f", a+1, plan.Places[p], got.Place[a][p], want[a][p])
			}
		}
	}
	if math.Abs(sums[0]-1) > 1e-12 || math.Abs(sums[1]-1) > 1e-12 {
		t.Errorf("the chances of places come to %v", sums)
	}
}

// TestPlanAfterResults starts in the middle of a playoff.
func TestPlanAfterResults(t *testing.T) {
	t.Parallel()
	f := format(t, "double_elimination_8", 8, 2)
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 4))
		standings := make([]*bracket.Standing, len(f.Series))
		for range 3 + rng.IntN(10) {
			open := bracket.Open(f, standings)
			o := open[rng.IntN(len(open))]
			if rng.IntN(2) > 0 {
				o.RedWins++
			} else {
				o.BlueWins++
			}
			standings[o.Series] = &o.Standing
		}
		same(t, f, standings, chances(rng, 8))
	}
	// The final stands at one game each.
	standings := make([]*bracket.Standing, len(f.Series))
	for len(standings) > 0 {
		open := bracket.Open(f, standings)
		if open[0].Series == 13 {
			break
		}
		open[0].RedWins = 1
		standings[open[0].Series] = &open[0].Standing
	}
	last := bracket.Open(f, standings)[0]
	last.RedWins, last.BlueWins = 1, 1
	standings[13] = &last.Standing
	same(t, f, standings, chances(rand.New(rand.NewPCG(9, 9)), 8))
}

func TestSeriesChance(t *testing.T) {
	t.Parallel()
	// By hand: best of three q²(3 − 2q); one game ahead 1 − (1−q)²; best of five.
	q := 0.6
	for name, tt := range map[string][2]float64{
		"OneGame":     {bracket.SeriesChance(q, 1, 0, 0), q},
		"BestOfThree": {bracket.SeriesChance(q, 2, 0, 0), q * q * (3 - 2*q)},
		"Ahead":       {bracket.SeriesChance(q, 2, 1, 0), 1 - (1-q)*(1-q)},
		"Behind":      {bracket.SeriesChance(q, 2, 0, 1), q * q},
		"BestOfFive":  {bracket.SeriesChance(q, 3, 0, 0), q * q * q * (1 + 3*(1-q) + 6*(1-q)*(1-q))},
		"Over":        {bracket.SeriesChance(q, 2, 2, 1), 1},
		"Lost":        {bracket.SeriesChance(q, 2, 1, 2), 0},
	} {
		if math.Abs(tt[0]-tt[1]) > 1e-15 {
			t.Errorf("%s: %v, want %v", name, tt[0], tt[1])
		}
	}
}

func TestRoundRobinIsFair(t *testing.T) {
	t.Parallel()
	for n := 2; n <= 9; n++ {
		f := format(t, "round_robin", n, 1)
		met := map[[2]int]bool{}
		for _, s := range f.Series[:f.Table] {
			met[[2]int{s.Red.N, s.Blue.N}] = true
		}
		if len(met) != n*(n-1)/2 || len(met) != f.Table {
			t.Errorf("%d alliances: %d pairs in %d matches: %v", n, len(met), f.Table, slices.Collect(maps.Keys(met)))
		}
	}
	if _, err := bracket.NewPlan(format(t, "round_robin", 12, 2), nil); err == nil {
		t.Error("a round robin of 12 was gone through")
	}
}

func TestFormatOfRefuses(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name string
		n    int
	}{{"double_elimination_8", 9}, {"single_elimination_4", 5}, {"single_elimination_2", 1}, {"ladder", 4}} {
		if _, err := bracket.FormatOf(&game.Playoff{Format: tt.name}, tt.n); err == nil {
			t.Errorf("%s for %d: no error", tt.name, tt.n)
		}
	}
}

func BenchmarkPlan(b *testing.B) {
	f := format(b, "double_elimination_8", 8, 2)
	all, err := bracket.NewPlan(f, nil)
	if err != nil {
		b.Fatal(err)
	}
	one, err := bracket.NewPlanFor(f, nil, 3)
	if err != nil {
		b.Fatal(err)
	}
	for name, plan := range map[string]*bracket.Plan{"All": all, "One": one} {
		b.Run(name, func(b *testing.B) {
			game, out := chances(rand.New(rand.NewPCG(1, 1)), 8), plan.Chances()
			b.ReportAllocs()
			for b.Loop() {
				plan.Run(game, out)
			}
		})
	}
}

package contrib

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// LSQR, part by part and as a whole, against numpy's SVD and scipy's lsqr; see
// the file's SOURCE.md.
func TestSparseReference(t *testing.T) {
	t.Parallel()
	var file struct {
		Robots     int
		Alliances  [][]int
		Scores     []float64
		Determined []bool
		Solution   []float64
		LSQR       []float64 `json:"lsqr"`
	}
	readReference(t, "season/season.json", &file)
	x := newIncidence(file.Robots)
	for _, a := range file.Alliances {
		x.add(a)
	}
	for name, solve := range map[string]func(...[]float64) ([][]float64, []bool){
		"Parts":   x.solve,
		"OneLSQR": func(ys ...[]float64) ([][]float64, []bool) { return x.iterate(ys) },
	} {
		t.Run(name, func(t *testing.T) {
			twice := make([]float64, len(file.Scores))
			for i, y := range file.Scores {
				twice[i] = 2 * y
			}
			got, determined := solve(file.Scores, twice)
			for j, want := range file.Determined {
				if determined[j] != want {
					t.Errorf("robot %d determined: %v, want %v", j, determined[j], want)
				}
				if !want {
					continue
				}
				for _, v := range []float64{file.Solution[j], file.LSQR[j]} {
					if math.Abs(got[0][j]-v) > 1e-8 || math.Abs(got[1][j]-2*v) > 2e-8 {
						t.Errorf("robot %d: %v and %v, want %v and twice that", j, got[0][j], got[1][j], v)
					}
				}
			}
		})
	}
}

// Random schedules, with alliances of two and three and too few matches now and
// then: LSQR finds what the rank-revealing factorisation finds.
func TestSparseMatchesFactor(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(8, 8))
	undetermined := 0
	for range 150 {
		n := 4 + rng.IntN(20)
		x := newIncidence(n)
		var y []float64
		for range 1 + rng.IntN(3*n) {
			x.add(rng.Perm(n)[:2+rng.IntN(2)])
			y = append(y, math.Round(60+20*rng.NormFloat64()))
		}
		f := newFactor(x.dense())
		want := f.solve(y)
		for name, solve := range map[string]func(...[]float64) ([][]float64, []bool){
			"parts": x.solve, "one LSQR": func(ys ...[]float64) ([][]float64, []bool) { return x.iterate(ys) },
		} {
			got, determined := solve(y)
			for j := range n {
				if determined[j] != f.determined[j] {
					t.Fatalf("%s: robot %d of %d, %d alliances: determined %v, factored %v", name, j, n, x.rows(), determined[j], f.determined[j])
				}
				if !determined[j] {
					undetermined++
				} else if math.Abs(got[0][j]-want.coef[j]) > 1e-7 {
					t.Fatalf("%s: robot %d: %v, factored %v", name, j, got[0][j], want.coef[j])
				}
			}
		}
	}
	if undetermined < 100 {
		t.Errorf("only %d undetermined robots: the schedules are too easy", undetermined)
	}
}

// A season too large to factor goes by LSQR and finds exact sums again, but for
// the two robots that always play together.
func TestSparseSeason(t *testing.T) {
	t.Parallel()
	x, _ := season(600, 3000)
	n := x.robots
	x.robots += 2
	truth := make([]float64, x.robots)
	for j := range truth {
		truth[j] = float64(5 + j%37)
	}
	for i := range 40 {
		x.add([]int{i, n, n + 1})
	}
	p := x.parts()
	if len(p) != 1 || float64(x.rows())*float64(n)*float64(n) <= denseLimit {
		t.Fatalf("%d parts of %d alliances and %d robots: not the season that this is about", len(p), x.rows(), n)
	}
	y := make([]float64, x.rows())
	for i := range y {
		for _, j := range x.row(i) {
			y[i] += truth[j]
		}
	}
	got, determined := x.solve(y)
	for j := range truth {
		if want := j < n; determined[j] != want {
			t.Errorf("robot %d determined: %v, want %v", j, determined[j], want)
		}
		if j < n && math.Abs(got[0][j]-truth[j]) > 1e-8 {
			t.Errorf("robot %d: %v, want %v", j, got[0][j], truth[j])
		}
	}
}

// season invents a season: venues of 50 robots and 100 matches, as many as
// there are matches for; every robot visits two or three.
func season(robots, matches int) (*incidence, []float64) {
	rng := rand.New(rand.NewPCG(2, uint64(robots)))
	skill := make([]float64, robots)
	for j := range skill {
		skill[j] = 22 + 8*rng.NormFloat64()
	}
	x := newIncidence(robots)
	var y []float64
	var deck []int
	for range matches / 100 {
		for len(deck) < 50 {
			deck = append(deck, rng.Perm(robots)...)
		}
		venue := deck[:50]
		deck = deck[50:]
		for range 100 {
			var drawn []int
			for len(drawn) < 6 {
				r := venue[rng.IntN(50)]
				new := true
				for _, d := range drawn {
					new = new && d != r
				}
				if new {
					drawn = append(drawn, r)
				}
			}
			for _, side := range [][]int{drawn[:3], drawn[3:]} {
				x.add(side)
				y = append(y, math.Max(0, math.Round(skill[side[0]]+skill[side[1]]+skill[side[2]]+14*rng.NormFloat64())))
			}
		}
	}
	return x, y
}

// peerData reads what deploy/bench has invented for all programs that it times
// (SEXTANT_PEER_DATA is its folder); without it the benchmarks invent their own.
func peerData(b *testing.B, name string, robots, matches int) (*incidence, []float64) {
	b.Helper()
	dir := os.Getenv("SEXTANT_PEER_DATA")
	if dir == "" {
		return season(robots, matches)
	}
	f, err := os.Open(filepath.Join(dir, name+".csv"))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		b.Fatal(err)
	}
	x := newIncidence(0)
	var y []float64
	for _, row := range rows[1:] {
		var v [4]int
		for k := range v {
			if v[k], err = strconv.Atoi(row[k]); err != nil {
				b.Fatal(err)
			}
		}
		x.robots = max(x.robots, v[0]+1, v[1]+1, v[2]+1)
		x.add(v[:3])
		y = append(y, float64(v[3]))
	}
	return x, y
}

// One solution of a season of 4,000 robots and 20,000 matches, without and with
// the two probes that tell what is determined.
func BenchmarkSeasonLSQR(b *testing.B) {
	x, y := peerData(b, "season", 4000, 20000)
	b.ReportAllocs()
	for b.Loop() {
		s := newLSQR(x)
		if _, ok := s.solve(y); !ok {
			b.Fatal("not converged")
		}
	}
}

// Growth with the season, what is determined told.
func BenchmarkSeason(b *testing.B) {
	for _, robots := range []int{1000, 2000, 4000} {
		b.Run(strconv.Itoa(robots), func(b *testing.B) {
			x, y := season(robots, 5*robots)
			for b.Loop() {
				x.solve(y)
			}
		})
	}
}

// REML on the totals of an event, without and with predictions.
func BenchmarkREML(b *testing.B) {
	x, y := peerData(b, "event", 60, 200)
	var rows []total
	for i := range x.rows() {
		var robots []int
		for _, j := range x.row(i) {
			robots = append(robots, int(j))
		}
		rows = append(rows, total{robots, y[i]})
	}
	for b.Loop() {
		if _, _, err := reml(rows, x.robots, 3, robotScale(rows)); err != nil {
			b.Fatal(err)
		}
	}
}

// Growth of REML with the event.
func BenchmarkREMLGrowth(b *testing.B) {
	for _, robots := range []int{60, 120, 240} {
		b.Run(strconv.Itoa(robots), func(b *testing.B) {
			rng := rand.New(rand.NewPCG(3, 3))
			var rows []total
			for range 4 * robots {
				rows = append(rows, total{rng.Perm(robots)[:3], math.Round(66 + 20*rng.NormFloat64())})
			}
			for b.Loop() {
				if _, _, err := reml(rows, robots, 3, robotScale(rows)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

package contrib

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// readReference reads a file below testdata/reference; the SOURCE.md beside it
// says where the numbers come from.
func readReference(t testing.TB, name string, into any) {
	t.Helper()
	body, err := os.ReadFile(filepath.Join("..", "..", "testdata", "reference", filepath.FromSlash(name)))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(body, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

type strdSet struct {
	Name      string          `json:"name"`
	Model     string          `json:"model"`
	Degree    int             `json:"degree"`
	Intercept bool            `json:"intercept"`
	X         json.RawMessage `json:"x"`
	Y         []float64       `json:"y"`
	Certified struct {
		Coefficients []float64 `json:"coefficients"`
		SD           []float64 `json:"standard_deviations"`
		ResidualSD   float64   `json:"residual_sd"`
		RSS          float64   `json:"residual_sum_of_squares"`
	} `json:"certified"`
	Verified struct {
		Design struct {
			Coefficients float64 `json:"coefficients"`
			SD           float64 `json:"standard_deviations"`
			ResidualSD   float64 `json:"residual_sd"`
		} `json:"binary64_design_lre"`
	} `json:"verified"`
}

func (s *strdSet) design(t *testing.T) *mat.Dense {
	t.Helper()
	var rows [][]float64
	if s.Model == "multiple" {
		if err := json.Unmarshal(s.X, &rows); err != nil {
			t.Fatal(err)
		}
		for i := range rows {
			rows[i] = append([]float64{1}, rows[i]...)
		}
	} else {
		var xs []float64
		if err := json.Unmarshal(s.X, &xs); err != nil {
			t.Fatal(err)
		}
		for _, x := range xs {
			var row []float64
			p := 1.0
			for k := 0; k <= s.Degree; k++ {
				if k > 0 || s.Intercept {
					row = append(row, p)
				}
				p *= x
			}
			rows = append(rows, row)
		}
	}
	d := mat.NewDense(len(rows), len(rows[0]), nil)
	for i, r := range rows {
		d.SetRow(i, r)
	}
	return d
}

// digits is −log10 of the worst relative error, at most 15.
func digits(got, want []float64) float64 {
	worst := 15.0
	for i := range want {
		e := math.Abs(got[i] - want[i])
		if want[i] != 0 {
			e /= math.Abs(want[i])
		}
		if e > 0 {
			worst = math.Min(worst, -math.Log10(e))
		}
		if math.IsNaN(e) {
			return 0
		}
	}
	return worst
}

// NIST Statistical Reference Datasets, linear regression: the certified values
// to the digits that are left once the design is rounded to binary64.
func TestLeastSquaresNIST(t *testing.T) {
	t.Parallel()
	// Householder QR in double precision (LAPACK by numpy 1.24.2), fewest digits of any coefficient: the floor.
	floor := map[string]float64{"Norris": 13.3, "Pontius": 12.7, "NoInt1": 14.7, "NoInt2": 15, "Longley": 10.9,
		"Wampler1": 9.4, "Wampler2": 12.8, "Wampler3": 9.9, "Wampler4": 7.7, "Wampler5": 5.7, "Filip": 7.6}
	var file struct{ Sets []strdSet }
	readReference(t, "least_squares/strd_linear.json", &file)
	if len(file.Sets) != len(floor) {
		t.Fatalf("%d sets, want %d", len(file.Sets), len(floor))
	}
	for _, s := range file.Sets {
		t.Run(s.Name, func(t *testing.T) {
			x := s.design(t)
			m, n := x.Dims()
			f := newFactor(x)
			got := f.solve(s.Y)
			if f.rank != n {
				t.Fatalf("rank %d, want %d", f.rank, n)
			}
			c, v := s.Certified, s.Verified.Design
			coef := digits(got.coef, c.Coefficients)
			if want := math.Max(floor[s.Name]-0.05, v.Coefficients-0.5); coef < want {
				t.Errorf("coefficients: %.1f digits, want %.1f\ngot  %v\nwant %v", coef, want, got.coef, c.Coefficients)
			}
			resSD := math.Sqrt(got.rss / float64(m-n))
			// Coefficients are kept as doubles: on Filip, where terms of 1e5 cancel
			// to fitted values near 1, that alone costs a digit of the residuals.
			if d := digits([]float64{resSD}, []float64{c.ResidualSD}); d < v.ResidualSD-1.2 {
				t.Errorf("residual sd: %.1f digits, want %.1f", d, v.ResidualSD-1.2)
			}
			// The standard deviations come from the triangle alone, without
			// refinement: they lose about the digits that the condition costs.
			if d, want := digits(got.sd, c.SD), math.Min(v.SD-1, 11.5); d < want {
				t.Errorf("standard deviations: %.1f digits, want %.1f", d, want)
			}
		})
	}
}

func TestLeastSquaresFourRobots(t *testing.T) {
	t.Parallel()
	type system struct {
		Alliances [][]int   `json:"alliances"`
		Scores    []float64 `json:"scores"`
		Solution  []float64 `json:"solution_decimal"`
	}
	var file struct {
		system
		Over system `json:"overdetermined"`
	}
	readReference(t, "worked_examples/four_robots.json", &file)
	for name, s := range map[string]system{"Exact": file.system, "FifthRow": file.Over} {
		t.Run(name, func(t *testing.T) {
			x := mat.NewDense(len(s.Alliances), 4, nil)
			for i, a := range s.Alliances {
				for _, r := range a {
					x.Set(i, r-1, 1)
				}
			}
			f := newFactor(x)
			got := f.solve(s.Scores)
			for j, want := range s.Solution {
				if !f.determined[j] || math.Abs(got.coef[j]-want) > 1e-14 {
					t.Errorf("robot %d: %v (determined %v), want %v", j+1, got.coef[j], f.determined[j], want)
				}
			}
		})
	}
}

func TestLeastSquaresDetermined(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name string
		rows [][]float64
		want []bool
	}{
		{"FewerRowsThanRobots", [][]float64{{1, 1, 1, 0}}, []bool{false, false, false, false}},
		{"TwoAlwaysTogether", [][]float64{{1, 1, 1, 0}, {1, 1, 0, 1}, {0, 0, 1, 1}, {1, 1, 1, 1}}, []bool{false, false, true, true}},
		{"OneAlone", [][]float64{{1, 0, 0, 0}, {0, 1, 1, 0}}, []bool{true, false, false, false}},
		{"NeverPlayed", [][]float64{{1, 1, 0}, {1, 0, 0}}, []bool{true, true, false}},
		// A bipartite schedule: 1 and 2 only ever with 3 or 4. Rank 3 of 4, nobody alone is known.
		{"Disconnected", [][]float64{{1, 0, 1, 0}, {1, 0, 0, 1}, {0, 1, 1, 0}, {0, 1, 0, 1}}, []bool{false, false, false, false}},
		{"Full", [][]float64{{1, 1, 0}, {1, 0, 1}, {0, 1, 1}}, []bool{true, true, true}},
		{"AllZero", [][]float64{{0, 0}, {0, 0}}, []bool{false, false}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			x := mat.NewDense(len(c.rows), len(c.rows[0]), nil)
			for i, r := range c.rows {
				x.SetRow(i, r)
			}
			f := newFactor(x)
			for j, want := range c.want {
				if f.determined[j] != want {
					t.Errorf("robot %d determined: %v, want %v", j, f.determined[j], want)
				}
			}
			// What is determined is found again from exact data.
			truth := make([]float64, len(c.want))
			for j := range truth {
				truth[j] = float64(3*j + 2)
			}
			y := make([]float64, len(c.rows))
			for i, r := range c.rows {
				for j, v := range r {
					y[i] += v * truth[j]
				}
			}
			got := f.solve(y)
			for j := range truth {
				if f.determined[j] && math.Abs(got.coef[j]-truth[j]) > 1e-12 {
					t.Errorf("robot %d: %v, want %v", j, got.coef[j], truth[j])
				}
			}
		})
	}
}

// Against the definition of determined: e_j is in the row space iff projecting
// it there (by the SVD) leaves it as it is.
func TestLeastSquaresDeterminedMatchesSVD(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		n := 4 + rng.IntN(12)
		m := 1 + rng.IntN(n+4)
		x := mat.NewDense(m, n, nil)
		for i := range m {
			for _, j := range rng.Perm(n)[:3] {
				x.Set(i, j, 1)
			}
		}
		var svd mat.SVD
		if !svd.Factorize(x, mat.SVDThin) {
			t.Fatal("SVD failed")
		}
		sv := svd.Values(nil)
		var v mat.Dense
		svd.VTo(&v)
		rank := 0
		for _, s := range sv {
			if s > 1e-9 {
				rank++
			}
		}
		f := newFactor(x)
		if f.rank != rank {
			t.Fatalf("rank %d, SVD says %d", f.rank, rank)
		}
		for j := range n {
			var in float64
			for k := range rank {
				in += v.At(j, k) * v.At(j, k)
			}
			if want := in > 1-1e-9; f.determined[j] != want {
				t.Fatalf("column %d: determined %v, SVD says %v (%v)", j, f.determined[j], want, in)
			}
		}
	}
}

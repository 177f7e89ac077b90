package contrib

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

type refEvent struct {
	Robots  []int `json:"robots"`
	Matches []struct {
		Match int     `json:"match"`
		Red   []int   `json:"red"`
		Blue  []int   `json:"blue"`
		RedS  float64 `json:"red_score"`
		BlueS float64 `json:"blue_score"`
	} `json:"matches"`
	Scouts       int `json:"scouts"`
	Observations []struct {
		Robot, Scout int
		Count        float64
	} `json:"observations"`
}

type refREML struct {
	Fixed          struct{ Mu, SE float64 } `json:"fixed"`
	Variance       map[string]float64       `json:"variance"`
	Criterion      float64                  `json:"reml_criterion"`
	BLUP           map[string][]float64     `json:"blup"`
	ConditionalSD  map[string][]float64     `json:"conditional_sd"`
	PredictionSD   map[string][]float64     `json:"prediction_error_sd"`
	Contribution   []float64                `json:"contribution"`
	ContributionSD []float64                `json:"contribution_sd"`
}

type refRidge struct {
	Lambda       float64   `json:"lambda"`
	Intercept    float64   `json:"intercept"`
	Coefficients []float64 `json:"coefficients"`
}

type refExpected struct {
	OLS map[string]struct {
		Coefficients []float64 `json:"coefficients"`
	} `json:"ols"`
	MinimumNorm *struct{ Rank int } `json:"minimum_norm"`
	High        struct {
		Score       refREML  `json:"reml_score"`
		Margin      refREML  `json:"reml_margin"`
		Crossed     *refREML `json:"reml_crossed"`
		OwnOpponent *refREML `json:"reml_own_opponent"`
	} `json:"high_precision"`
	Crossed          *refREML   `json:"reml_crossed"`
	OwnOpponent      *refREML   `json:"reml_own_opponent"`
	RidgeIntercept   []refRidge `json:"ridge_intercept"`
	RidgeNoIntercept []refRidge `json:"ridge_no_intercept"`
}

func readEvent(t testing.TB, name string) (refEvent, refExpected) {
	t.Helper()
	var ev refEvent
	var ex refExpected
	readReference(t, "mixed_model/event_"+name+".json", &ev)
	readReference(t, "mixed_model/expected_"+name+".json", &ex)
	return ev, ex
}

// rows returns red's, then blue's total of each match, scored by what.
func (ev *refEvent) rows(what func(own, other float64) float64) []total {
	index := map[int]int{}
	for i, r := range ev.Robots {
		index[r] = i
	}
	of := func(robots []int) []int {
		var out []int
		for _, r := range robots {
			out = append(out, index[r])
		}
		return out
	}
	var out []total
	for _, m := range ev.Matches {
		out = append(out, total{of(m.Red), what(m.RedS, m.BlueS)}, total{of(m.Blue), what(m.BlueS, m.RedS)})
	}
	return out
}

// near compares to 1e-6, relative, or absolute below 1 (the reference's tolerance).
func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-6*math.Max(1, math.Abs(want))) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

// REML, BLUP and their errors against 40-digit arithmetic, on four events.
func TestMixedModelReference(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"small", "medium", "early", "flat"} {
		ev, ex := readEvent(t, name)
		score := func(own, _ float64) float64 { return own }
		margin := func(own, other float64) float64 { return own - other }
		for _, c := range []struct {
			name string
			rows []total
			want refREML
		}{{"Score", ev.rows(score), ex.High.Score}, {"Margin", ev.rows(margin), ex.High.Margin}} {
			t.Run(name+c.name, func(t *testing.T) {
				n := len(ev.Robots)
				tau2, sigma2, err := reml(c.rows, n, 3, robotScale(c.rows))
				if err != nil {
					t.Fatal(err)
				}
				near(t, "robot variance", tau2, c.want.Variance["robot"])
				near(t, "residual variance", sigma2, c.want.Variance["residual"])
				s := newSystem(n)
				for _, r := range c.rows {
					s.add(referenceBlock(r, sigma2))
				}
				g := make([]float64, n)
				for i := range g {
					g[i] = tau2
				}
				p, err := s.solve(g)
				if err != nil {
					t.Fatal(err)
				}
				near(t, "mu", p.mu, c.want.Fixed.Mu)
				near(t, "se of mu", math.Sqrt(p.muVar), c.want.Fixed.SE)
				near(t, "criterion", -2*p.logLik, c.want.Criterion)
				near(t, "criterion alone", -2*s.logLikelihood(g), c.want.Criterion)
				l := mat.NewDense(n, n, nil)
				d := make([]float64, n)
				for i := range n {
					l.Set(i, i, 1)
					d[i] = 1.0 / 3
					near(t, fmt.Sprint("effect ", i), p.u[i], c.want.BLUP["robot"][i])
					near(t, fmt.Sprint("conditional sd ", i), math.Sqrt(p.c.At(i, i)), c.want.ConditionalSD["robot"][i])
					if sd := c.want.PredictionSD["robot"]; sd != nil {
						near(t, fmt.Sprint("prediction sd ", i), math.Sqrt(p.c.At(i, i)+p.g[i]*p.g[i]*p.muVar), sd[i])
					}
				}
				mean, cov := p.project(l, d)
				for i, want := range c.want.Contribution {
					near(t, fmt.Sprint("contribution ", i), mean[i], want)
					near(t, fmt.Sprint("contribution sd ", i), math.Sqrt(cov.At(i, i)), c.want.ContributionSD[i])
				}
				if c.want.Variance["robot"] == 0 {
					for i := range n {
						near(t, "contribution of equal robots", mean[i], c.want.Fixed.Mu/3)
						near(t, "its sd", math.Sqrt(cov.At(i, i)), c.want.Fixed.SE/3)
					}
				}
			})
		}
	}
}

func referenceBlock(t total, sigma2 float64) *block {
	return &block{cols: t.robots, h: [][]float64{{1, 1, 1}}, x: []float64{1}, y: []float64{t.own}, v: [][]float64{{sigma2}}}
}

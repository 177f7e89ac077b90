package contrib

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestWriteReference writes what this package says of the reference events, in
// the form of testdata/reference/mixed_model/expected_*.json, to the file that
// SEXTANT_REFERENCE_OUT names: testdata/reference/rerun compares it with R and lme4.
func TestWriteReference(t *testing.T) {
	path := os.Getenv("SEXTANT_REFERENCE_OUT")
	if path == "" {
		t.Skip("SEXTANT_REFERENCE_OUT is not set")
	}
	out := map[string]map[string]map[string]any{}
	for _, name := range []string{"small", "medium", "early", "flat"} {
		ev, ex := readEvent(t, name)
		n := len(ev.Robots)
		models := map[string]map[string]any{}
		out[name] = models
		own := func(own, _ float64) float64 { return own }
		margin := func(own, other float64) float64 { return own - other }

		if len(ex.OLS) > 0 {
			ols := map[string]any{}
			models["ols"] = ols
			x := newIncidence(n)
			rows := map[string][]float64{}
			for _, r := range ev.rows(own) {
				x.add(r.robots)
			}
			for what, of := range map[string]func(own, other float64) float64{"offence": own, "margin": margin, "allowed": func(_, other float64) float64 { return other }} {
				for _, r := range ev.rows(of) {
					rows[what] = append(rows[what], r.own)
				}
				f := newFactor(x.dense())
				got := f.solve(rows[what])
				ols[what] = map[string]any{"coefficients": got.coef, "standard_errors": got.sd}
			}
		}
		for model, of := range map[string]func(own, other float64) float64{"reml_score": own, "reml_margin": margin} {
			rows := ev.rows(of)
			tau2, sigma2, err := reml(rows, n, 3, robotScale(rows))
			if err != nil {
				t.Fatal(err)
			}
			s := newSystem(n)
			g := make([]float64, n)
			for i := range g {
				g[i] = tau2
			}
			for _, r := range rows {
				s.add(referenceBlock(r, sigma2))
			}
			p, err := s.solve(g)
			if err != nil {
				t.Fatal(err)
			}
			models[model] = tellReference(p, 1, []string{"robot"}, []int{n}, []float64{tau2}, sigma2, -2*p.logLik)
			if len(ex.High.Score.Contribution) > 0 { // the files have it where the robots differ
				l, d := mat.NewDense(n, n, nil), make([]float64, n)
				for i := range n {
					l.Set(i, i, 1)
					d[i] = 1.0 / 3
				}
				mean, cov := p.project(l, d)
				sd := make([]float64, n)
				for i := range sd {
					sd[i] = math.Sqrt(cov.At(i, i))
				}
				models[model]["contribution"], models[model]["contribution_sd"] = mean, sd
			}
		}
		for model, has := range map[string]bool{"crossed": ex.Crossed != nil, "own_opponent": ex.OwnOpponent != nil} {
			if has {
				fit, kinds, sizes := crossedReference(t, name, model)
				models["reml_"+model] = tellReference(fit.posterior, fit.sigma2, kinds, sizes, fit.tau2, fit.sigma2, fit.criterion)
			}
		}
	}
	body, err := json.MarshalIndent(out, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, body, 0o600); err != nil {
		t.Fatal(err)
	}
}

// tellReference puts a posterior, whose variances are in units of unit, in the
// form of the files.
func tellReference(p *posterior, unit float64, kinds []string, sizes []int, tau2 []float64, sigma2, criterion float64) map[string]any {
	variance := map[string]float64{"residual": sigma2}
	blup, known, unknown := map[string][]float64{}, map[string][]float64{}, map[string][]float64{}
	at := 0
	for f, kind := range kinds {
		variance[kind] = tau2[f]
		for range sizes[f] {
			c := p.c.At(at, at)
			blup[kind] = append(blup[kind], p.u[at])
			known[kind] = append(known[kind], math.Sqrt(c*unit))
			unknown[kind] = append(unknown[kind], math.Sqrt((c+square(p.g[at])*p.muVar)*unit))
			at++
		}
	}
	return map[string]any{
		"fixed":    map[string]float64{"mu": p.mu, "se": math.Sqrt(p.muVar * unit)},
		"variance": variance, "reml_criterion": criterion,
		"blup": blup, "conditional_sd": known, "prediction_error_sd": unknown,
	}
}

package study

import (
	"math"
	"testing"

	"sextant/stats/backtest"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
)

func small(t *testing.T) (*game.Game, Options) {
	t.Helper()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	events := generate.Defaults()
	events.Teams, events.MatchesPerTeam, events.Scouts = 24, 8, 6
	return g, Options{Seeds: 2, First: 11, Events: events, Estimators: contrib.Estimators(), Backtest: backtest.Options{From: 0.25}, TruthRuns: 20}
}

// On untuned events: nobody beats who knows everything, records beat none, and
// the estimate of the program has the smallest error of points.
func TestRun(t *testing.T) {
	t.Parallel()
	g, opt := small(t)
	r, err := Run(g, opt)
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]Row{}
	for _, row := range r.Rows {
		rows[row.Estimator] = row
		if row.Brier <= 0 || math.IsNaN(row.PointsRMSE+row.CRPS) || math.Abs(row.BrierRatio-row.Brier/r.Oracle.Brier) > 1e-12 {
			t.Errorf("%+v", row)
		}
	}
	fused, least := rows["fused"], rows["least_squares"]
	if fused.BrierDifference != (Difference{}) || least.MAEDifference.Mean <= 0 || least.MAEDifference.SE <= 0 {
		t.Errorf("differences: fused %+v, least squares %+v", fused.BrierDifference, least.MAEDifference)
	}
	if !(r.Oracle.ScoreMAE < fused.ScoreMAE && fused.PointsRMSE < 0.75*least.PointsRMSE) {
		t.Errorf("score error: oracle %.2f, fused %.2f; points: fused %.2f, least squares %.2f",
			r.Oracle.ScoreMAE, fused.ScoreMAE, fused.PointsRMSE, least.PointsRMSE)
	}
}

func TestPaired(t *testing.T) {
	t.Parallel()
	a, b := []Scores{{Brier: 0.3}, {Brier: 0.2}, {Brier: 0.4}}, []Scores{{Brier: 0.2}, {Brier: 0.2}, {Brier: 0.2}}
	d := paired(a, b, func(s *Scores) float64 { return s.Brier })
	// Differences 0.1, 0, 0.2: mean 0.1, sd 0.1.
	if math.Abs(d.Mean-0.1) > 1e-15 || math.Abs(d.SE-0.1/math.Sqrt(3)) > 1e-15 {
		t.Errorf("%+v, want 0.1 and 0.0577", d)
	}
}

func TestRunRefuses(t *testing.T) {
	t.Parallel()
	g, opt := small(t)
	opt.Seeds = 0
	if _, err := Run(g, opt); err == nil {
		t.Error("a study of no events was made")
	}
}

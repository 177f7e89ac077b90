package study

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"sextant/stats/backtest"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// Options of a study.
type Options struct {
	Seeds, First int // seeds First, First+1, …
	Events       generate.Options
	Estimators   []string // of contrib.Estimators; the first is what the others are compared with
	Backtest     backtest.Options
	TruthRuns    int // how often each match is played over to know the truth; at least 2
}

// Scores are means over events.
type Scores struct {
	Brier      float64 `json:"brier"`
	LogLoss    float64 `json:"log_loss"`
	Correct    float64 `json:"correct"`
	ScoreMAE   float64 `json:"score_mae"`
	CRPS       float64 `json:"crps"`
	Coverage80 float64 `json:"coverage80"`
	// PointsRMSE is the error of the robots' points, their mean taken off; 0
	// for the oracle.
	PointsRMSE float64 `json:"points_rmse"`
	// Top8Bias is the mean of estimate − truth, means taken off, of the eight
	// truly best robots.
	Top8Bias      float64            `json:"top8_bias"`
	RankingPoints map[string]float64 `json:"ranking_points,omitempty"` // Brier score by id
}

// Row is one estimator.
type Row struct {
	Estimator string `json:"estimator"`
	Scores
	BrierRatio float64 `json:"brier_ratio"` // to the oracle's
	MAERatio   float64 `json:"mae_ratio"`
	// Difference to the first estimator, paired by event, with its standard error.
	BrierDifference Difference `json:"brier_difference"`
	MAEDifference   Difference `json:"mae_difference"`
}

// Difference is a mean over events with its standard error.
type Difference struct {
	Mean float64 `json:"mean"`
	SE   float64 `json:"se"`
}

// Report of a study.
type Report struct {
	Seeds  int    `json:"seeds"`
	First  int    `json:"first"`
	Oracle Scores `json:"oracle"`
	Rows   []Row  `json:"estimators" nullable:"false"`
}

// Run makes the study.
func Run(g *game.Game, opt Options) (*Report, error) {
	if opt.Seeds < 1 || len(opt.Estimators) == 0 {
		return nil, errors.New("a study needs at least one seed and one estimator")
	}
	var oracle []Scores
	all := make([][]Scores, len(opt.Estimators))
	for seed := opt.First; seed < opt.First+opt.Seeds; seed++ {
		w, err := generate.New(g, rand.New(rand.NewPCG(uint64(seed), 0)), opt.Events)
		if err != nil {
			return nil, err
		}
		ev, truth := w.Event(w.Matches()), w.Truth(opt.TruthRuns)
		for k, name := range opt.Estimators {
			scores, report, err := one(ev, truth, name, opt.Backtest)
			if err != nil {
				return nil, fmt.Errorf("seed %d, %s: %w", seed, name, err)
			}
			all[k] = append(all[k], scores)
			if k == 0 {
				oracle = append(oracle, known(report, truth))
			}
		}
	}
	out := &Report{Seeds: opt.Seeds, First: opt.First, Oracle: mean(oracle)}
	for k, name := range opt.Estimators {
		row := Row{Estimator: name, Scores: mean(all[k])}
		row.BrierRatio, row.MAERatio = row.Brier/out.Oracle.Brier, row.ScoreMAE/out.Oracle.ScoreMAE
		row.BrierDifference = paired(all[k], all[0], func(s *Scores) float64 { return s.Brier })
		row.MAEDifference = paired(all[k], all[0], func(s *Scores) float64 { return s.ScoreMAE })
		out.Rows = append(out.Rows, row)
	}
	return out, nil
}

// one is an estimator on an event.
func one(ev *record.Event, truth *generate.Truth, name string, opt backtest.Options) (Scores, *backtest.Report, error) {
	opt.Estimator = name
	report, err := backtest.Run(ev, opt)
	if err != nil {
		return Scores{}, nil, err
	}
	s := of(&report.Summary)
	points := make([]float64, len(truth.Teams))
	if name == contrib.EstimatorFused {
		fit, err := contrib.Estimate(ev, contrib.Options{})
		if err != nil {
			return Scores{}, nil, err
		}
		for i, t := range fit.Record().Teams {
			points[i] = t.Points
		}
	} else {
		b, err := contrib.NewBaseline(ev, name)
		if err != nil {
			return Scores{}, nil, err
		}
		for i := range points {
			points[i] = b.Mean(i)
		}
	}
	s.PointsRMSE, s.Top8Bias = compare(points, truth)
	return s, report, nil
}

func of(s *backtest.Summary) Scores {
	return Scores{Brier: s.Brier, LogLoss: s.LogLoss, Correct: s.Correct, ScoreMAE: s.ScoreMAE, CRPS: s.CRPS,
		Coverage80: s.Coverage80, RankingPoints: s.RankingPoints}
}

// compare takes the means off both, teams in order of number.
func compare(points []float64, truth *generate.Truth) (rmse, top8 float64) {
	n := float64(len(points))
	var a, b float64
	for i := range points {
		a += points[i] / n
		b += truth.Teams[i].Points / n
	}
	best := make([]int, 0, len(points))
	for i := range points {
		rmse += square(points[i]-a-truth.Teams[i].Points+b) / n
		best = append(best, i)
	}
	for k := range min(8, len(best)) {
		for j := k + 1; j < len(best); j++ {
			if truth.Teams[best[j]].Points > truth.Teams[best[k]].Points {
				best[k], best[j] = best[j], best[k]
			}
		}
		top8 += (points[best[k]] - a - truth.Teams[best[k]].Points + b) / float64(min(8, len(best)))
	}
	return math.Sqrt(rmse), top8
}

// known is the oracle on the matches that an estimator forecast.
func known(report *backtest.Report, truth *generate.Truth) Scores {
	forecasts := map[record.MatchID]record.Forecast{}
	for _, m := range truth.Matches {
		forecasts[m.Match] = m.Forecast
	}
	matches := make([]backtest.Match, len(report.Matches))
	for i, m := range report.Matches {
		matches[i] = backtest.Match{Forecast: forecasts[m.Match], RedScore: m.RedScore, BlueScore: m.BlueScore}
	}
	s := backtest.Summarize(matches)
	return of(&s)
}

func mean(all []Scores) Scores {
	out := Scores{RankingPoints: map[string]float64{}}
	n := float64(len(all))
	for i := range all {
		s := &all[i]
		out.Brier += s.Brier / n
		out.LogLoss += s.LogLoss / n
		out.Correct += s.Correct / n
		out.ScoreMAE += s.ScoreMAE / n
		out.CRPS += s.CRPS / n
		out.Coverage80 += s.Coverage80 / n
		out.PointsRMSE += s.PointsRMSE / n
		out.Top8Bias += s.Top8Bias / n
		for id, v := range s.RankingPoints {
			out.RankingPoints[id] += v / n
		}
	}
	return out
}

func paired[S any](a, b []S, what func(*S) float64) Difference {
	n := float64(len(a))
	var d Difference
	for i := range a {
		d.Mean += (what(&a[i]) - what(&b[i])) / n
	}
	if n < 2 {
		return d
	}
	for i := range a {
		d.SE += square(what(&a[i])-what(&b[i])-d.Mean) / (n - 1) / n
	}
	d.SE = math.Sqrt(d.SE)
	return d
}

func square(x float64) float64 { return x * x }

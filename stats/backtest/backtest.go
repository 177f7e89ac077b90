package backtest

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/forecast"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// Options say what is forecast and from what.
type Options struct {
	// From is the share of the played matches that is only learned from, 0 to 1.
	From float64
	// Ahead is how many matches before its start a match is forecast: the
	// last Ahead matches before it are not known. 0: all before it are.
	Ahead int
	// Estimator is one of contrib.Estimators; "" is the estimate of the program.
	Estimator string
	// Draws of each match for the chances of ranking points and what caps take
	// off; 0: none, closed form only. Only the estimate of the program has them.
	Draws int
}

// Report has one entry for each match that was forecast, in playing order.
type Report struct {
	Matches []Match `json:"matches" nullable:"false"`
	Summary Summary `json:"summary"`
}

// Match is a forecast and what became of it.
type Match struct {
	record.Forecast
	RedScore  float64 `json:"red_score"`
	BlueScore float64 `json:"blue_score"`
}

// Summary scores the forecasts. With p = chance of red + half the chance of a
// tie, and o = 1, ½ or 0 when red won, it was a tie, or blue won:
type Summary struct {
	Forecast   int     `json:"forecast"`   // matches forecast
	Brier      float64 `json:"brier"`      // mean (p − o)²
	LogLoss    float64 `json:"log_loss"`   // mean −o·ln p − (1−o)·ln(1−p), p within [.001, .999]
	Correct    float64 `json:"correct"`    // share of matches with p on the right side of ½; ½ for a tie or p = ½
	ScoreMAE   float64 `json:"score_mae"`  // mean |score − mean| over alliances, points
	Coverage80 float64 `json:"coverage80"` // share of alliances with p10 ≤ score ≤ p90
	Coverage50 float64 `json:"coverage50"` // share of scores within 0.674 sd of the mean
	Coverage95 float64 `json:"coverage95"` // and within 1.96 sd
	CRPS       float64 `json:"crps"`       // mean continuous ranked probability score of normal laws, points
	// The Brier score is reliability − resolution + uncertainty, but for what
	// p varies within its ten bins (Murphy 1973).
	Reliability float64 `json:"reliability"`
	Resolution  float64 `json:"resolution"`
	Uncertainty float64 `json:"uncertainty"`
	// RankingPoints has the Brier score of each ranking point by id, of those
	// that could be told and that the results can be asked for.
	RankingPoints map[string]float64 `json:"ranking_points,omitempty"`
	Weakest       Tier               `json:"weakest"`   // quarter of the alliances by forecast
	Strongest     Tier               `json:"strongest"` // quarter
	Skipped       int                `json:"skipped"`   // played matches that were only learned from
}

// Tier is how forecasts of some alliances fared.
type Tier struct {
	Alliances  int     `json:"alliances"`
	Bias       float64 `json:"bias"` // mean of score − forecast, points
	Coverage80 float64 `json:"coverage80"`
}

// ErrTooFew says that no match is left to forecast.
var ErrTooFew = errors.New("no match is left to forecast: too few were played, or all are only learned from")

// refits are the shares of the played matches at which the variance
// components are estimated anew. Before the first of them every forecast
// estimates them, as too little is known for them to be kept.
var refits = []float64{0.25, 0.35, 0.5, 0.7}

// Run walks through the played matches of ev (the last play of each counts) in
// playing order. Matches that can't be forecast because nothing at all is known
// before them count as skipped. ErrTooFew: none is left.
func Run(ev *record.Event, opt Options) (*Report, error) {
	if !(opt.From >= 0 && opt.From <= 1) {
		return nil, fmt.Errorf("from is %v: a share of the matches is between 0 and 1", opt.From)
	}
	if opt.Ahead < 0 {
		return nil, fmt.Errorf("ahead is %d: a number of matches is at least 0", opt.Ahead)
	}
	played := counted(ev)
	n := len(played)
	report := &Report{Matches: []Match{}}
	var keep *contrib.Components
	lastRefit := -1
	for i := atLeast(opt.From, n); i < n; i++ {
		known := max(0, i-opt.Ahead)
		due := dueRefit(known, n)
		if due != lastRefit || due < 0 {
			keep = nil
		}
		f, c, err := opt.forecast(before(ev, played[known].ID), lineUps(&played[i]), keep)
		if errors.Is(err, contrib.ErrNoData) {
			continue
		}
		if err != nil {
			return nil, fmt.Errorf("forecast match %s: %w", played[i].ID, err)
		}
		if keep == nil {
			keep, lastRefit = c, due
		}
		report.Matches = append(report.Matches, Match{
			Forecast: f, RedScore: played[i].Red.Result.Score, BlueScore: played[i].Blue.Result.Score,
		})
	}
	if len(report.Matches) == 0 {
		return nil, ErrTooFew
	}
	report.Summary = Summarize(report.Matches)
	report.Summary.RankingPoints = rankingPoints(ev, report.Matches)
	report.Summary.Skipped = n - len(report.Matches)
	return report, nil
}

// forecast makes one forecast from what was known, with the components to keep.
func (opt *Options) forecast(known *record.Event, m *record.Match, keep *contrib.Components) (record.Forecast, *contrib.Components, error) {
	if opt.Estimator != "" && opt.Estimator != contrib.EstimatorFused {
		b, err := contrib.NewBaseline(known, opt.Estimator)
		if err != nil {
			return record.Forecast{}, nil, err
		}
		f, err := forecast.Match(b, m)
		return f, nil, err
	}
	fit, err := contrib.Estimate(known, contrib.Options{Components: keep})
	if err != nil {
		return record.Forecast{}, nil, err
	}
	c := fit.Components()
	if opt.Draws <= 0 {
		f, err := forecast.Match(fit, m)
		return f, &c, err
	}
	f, err := forecast.Drawn(simulate.New(fit), fit, m, forecast.Source(m.ID), opt.Draws)
	return f, &c, err
}

// atLeast is the least number of matches that makes the share of n.
func atLeast(share float64, n int) int {
	return int(math.Ceil(share*float64(n) - 1e-9)) // 0.35·20 is a little above 7 in binary
}

// dueRefit is the index of the last refit that known of n matches allow; −1:
// before the first.
func dueRefit(known, n int) int {
	due := -1
	for k, share := range refits {
		if known >= atLeast(share, n) {
			due = k
		}
	}
	return due
}

// counted are the matches with a result that counts, one play each, in playing order.
func counted(ev *record.Event) []record.Match {
	last := map[record.MatchID]record.Match{}
	for _, m := range ev.Matches {
		if have, ok := last[m.ID]; !ok || m.Play > have.Play {
			last[m.ID] = m
		}
	}
	var out []record.Match
	for _, m := range last {
		if m.Played() {
			out = append(out, m)
		}
	}
	slices.SortFunc(out, func(a, b record.Match) int { return a.ID.Compare(b.ID) })
	return out
}

// before is what was known when match id was the next: results, records and
// marks of earlier matches. A mark on match id itself may have been made
// because of what was seen there, so it is not known yet.
func before(ev *record.Event, id record.MatchID) *record.Event {
	out := &record.Event{Game: ev.Game, OurTeam: ev.OurTeam, Teams: ev.Teams}
	for _, m := range ev.Matches {
		if m.ID.Compare(id) < 0 {
			out.Matches = append(out.Matches, m)
		}
	}
	for _, o := range ev.Observations {
		if o.Match.Compare(id) < 0 {
			out.Observations = append(out.Observations, o)
		}
	}
	for _, m := range ev.Marks {
		if m.Match.Compare(id) < 0 {
			out.Marks = append(out.Marks, m)
		}
	}
	return out
}

// lineUps is a match as the schedule had it: who was absent in the end was not known.
func lineUps(m *record.Match) *record.Match {
	return &record.Match{
		ID: m.ID, Play: m.Play, StartsAt: m.StartsAt,
		Red: record.Alliance{Teams: m.Red.Teams}, Blue: record.Alliance{Teams: m.Blue.Teams},
	}
}

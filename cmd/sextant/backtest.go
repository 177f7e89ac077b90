package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"text/tabwriter"

	"sextant/stats/backtest"
	"sextant/stats/contrib"
)

// backtestCommand walks through the event and tells how good forecasts would
// have been. With --seeds it does so on invented events and tells how much of
// what could be known the estimators know.
type backtestCommand struct {
	Game         string   `placeholder:"FILE" help:"Game file (game.json). With --seeds the invented game Slackwater if left out."`
	Matches      string   `placeholder:"FILE" help:"Schedule and official results (matches.csv)."`
	Observations string   `placeholder:"FILE" help:"Scouts' records (observations.csv)."`
	Marks        string   `placeholder:"FILE" help:"Robots that are not what they were, and from which match on (marks.csv)."`
	From         float64  `default:"0.25" help:"Share of the played matches that is only learned from, 0 to 1."`
	Ahead        int      `default:"0" help:"Forecast each match this many matches before it."`
	Estimator    []string `placeholder:"NAME" help:"fused (the estimate, and the default), mixed, least_squares or averages; repeat it to put several side by side."`
	Draws        int      `default:"1000" help:"Draws of each match for the chances of ranking points and the spread of scores; 0: none."`
	Format       string   `enum:"json,table" default:"json" help:"json or table."`
	Selection    bool     `help:"With --seeds: play the alliance selection of so many invented events, our calls as recommended and in five plain ways. They come from the random streams 1, 2, … of --first-seed."`
	Plays        int      `default:"16" help:"With --selection: playoffs of each event."`
	Worlds       int      `default:"96" help:"With --selection: worlds that a recommended call may draw."`
	Standings    bool     `help:"With --seeds: hide the last --hidden of the matches of so many invented events, and measure the chance to be a captain against the order as it is."`
	Hidden       float64  `default:"0.4" help:"With --standings: share of the matches that is hidden."`
	Rota         bool     `help:"With --seeds: send scouts to robots by value and by station at so many invented events, with the same luck, and tell what is known in the end."`
	studyFlags
}

// backtestReport is the report of the first estimator, and the figures of all.
type backtestReport struct {
	*backtest.Report
	Estimators map[string]backtest.Summary `json:"estimators,omitempty"`
	names      []string
}

// Run prints the report.
func (c *backtestCommand) Run(ctx context.Context, s *streams) error {
	switch {
	case !(c.From >= 0 && c.From <= 1):
		return badInput(fmt.Errorf("--from %v: give a share of the played matches, from 0 to 1", c.From))
	case c.Ahead < 0:
		return badInput(fmt.Errorf("--ahead %d: give a number of matches, 0 or more", c.Ahead))
	case c.Draws < 0:
		return badInput(fmt.Errorf("--draws %d: give a number of draws, 0 or more", c.Draws))
	}
	for _, name := range c.Estimator {
		if !slices.Contains(contrib.Estimators(), name) {
			return badInput(fmt.Errorf("--estimator %s: there are %s", name, strings.Join(contrib.Estimators(), ", ")))
		}
	}
	if len(c.Estimator) == 0 {
		c.Estimator = []string{contrib.EstimatorFused}
	}
	opt := backtest.Options{From: c.From, Ahead: c.Ahead, Draws: c.Draws}
	if c.Rota {
		return c.rotas(ctx, s)
	}
	if c.Standings {
		return c.captains(ctx, s)
	}
	if c.Selection {
		return c.selections(ctx, s)
	}
	if c.Seeds > 0 {
		return c.study(s, opt)
	}
	for _, needed := range [][2]string{{"--game", c.Game}, {"--matches", c.Matches}} {
		if needed[1] == "" {
			return badInput(fmt.Errorf("missing flags: %s=FILE", needed[0]))
		}
	}
	files := eventFiles{Game: c.Game, Matches: c.Matches, Observations: c.Observations}
	ev, err := files.load(c.Marks)
	if err != nil {
		return err
	}
	out := backtestReport{names: c.Estimator}
	for k, name := range c.Estimator {
		opt.Estimator = name
		report, err := backtest.Run(ev, opt)
		if errors.Is(err, backtest.ErrTooFew) {
			return files.noResult(err)
		}
		if err != nil {
			return err
		}
		if k == 0 {
			out.Report = report
		}
		if len(c.Estimator) > 1 {
			if out.Estimators == nil {
				out.Estimators = map[string]backtest.Summary{}
			}
			out.Estimators[name] = report.Summary
		}
	}
	if c.Format == "table" {
		if err := writeBacktestTable(s.Out, out.Report); err != nil {
			return err
		}
		return writeEstimators(s.Out, &out)
	}
	return writeJSON(s.Out, out)
}

// writeEstimators puts several estimators side by side.
func writeEstimators(out io.Writer, r *backtestReport) error {
	if len(r.Estimators) == 0 {
		return nil
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "\nestimator\tBrier\tlog loss\tright side\tscore error\tCRPS\t80 % held\t")
	for _, name := range r.names {
		s := r.Estimators[name]
		fmt.Fprintf(w, "%s\t%.4f\t%.4f\t%.1f %%\t%.2f\t%.2f\t%.1f %%\t\n", name, s.Brier, s.LogLoss, 100*s.Correct, s.ScoreMAE, s.CRPS, 100*s.Coverage80)
	}
	return w.Flush()
}

func writeBacktestTable(out io.Writer, r *backtest.Report) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "match\tred\t80 %\tscored\tblue\t80 %\tscored\tred wins\ttie\tblue wins\t")
	for i := range r.Matches {
		m := &r.Matches[i]
		fmt.Fprintf(w, "%s\t%.1f\t%.0f–%.0f\t%.0f\t%.1f\t%.0f–%.0f\t%.0f\t%.0f %%\t%.0f %%\t%.0f %%\t\n", m.Match,
			m.Red.Mean, m.Red.P10, m.Red.P90, m.RedScore, m.Blue.Mean, m.Blue.P10, m.Blue.P90, m.BlueScore,
			100*m.Chance.Red, 100*m.Chance.Tie, 100*m.Chance.Blue)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	s := r.Summary
	if _, err := fmt.Fprintf(out, "\n%d matches forecast, %d only learned from.\nBrier score %.4f (a coin: 0.2500), log loss %.4f (0.6931), right side %.1f %%.\nScores: mean error %.1f points, 80 %% intervals held %.1f %%.\n",
		s.Forecast, s.Skipped, s.Brier, s.LogLoss, 100*s.Correct, s.ScoreMAE, 100*s.Coverage80); err != nil {
		return err
	}
	_, err := fmt.Fprintf(out, "Brier score = reliability %.4f − resolution %.4f + uncertainty %.4f, about; CRPS %.2f points; 50 and 95 %% intervals held %.1f and %.1f %%.\nForecasts of the weakest quarter were off by %+.1f points (80 %% held %.1f %%), of the strongest by %+.1f (%.1f %%).\n",
		s.Reliability, s.Resolution, s.Uncertainty, s.CRPS, 100*s.Coverage50, 100*s.Coverage95,
		s.Weakest.Bias, 100*s.Weakest.Coverage80, s.Strongest.Bias, 100*s.Strongest.Coverage80)
	if err != nil || len(s.RankingPoints) == 0 {
		return err
	}
	for _, id := range slices.Sorted(maps.Keys(s.RankingPoints)) {
		if _, err := fmt.Fprintf(out, "Ranking point %s: Brier score %.4f.\n", id, s.RankingPoints[id]); err != nil {
			return err
		}
	}
	return nil
}

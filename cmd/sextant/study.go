package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"

	"sextant/stats/backtest"
	"sextant/stats/contrib"
	"sextant/stats/generate"
	"sextant/stats/study"
)

// studyFlags say on which invented events estimators are measured.
type studyFlags struct {
	Seeds          int     `help:"Measure on so many invented events instead of one that is given; prints means over events beside the oracle, who knows every robot."`
	FirstSeed      int     `default:"1" help:"With --seeds: where they start."`
	Teams          int     `default:"60" help:"With --seeds: teams of an event."`
	MatchesPerTeam int     `default:"12" help:"With --seeds: matches of every team."`
	Scouts         int     `default:"12" help:"With --seeds: scouts who take turns; 0: no records at all."`
	Watched        float64 `default:"0.95" help:"With --seeds: share of robots that are watched, 0 to 1."`
	Careless       float64 `default:"0.15" help:"With --seeds: share of scouts who are careless, 0 to 1."`
	Mistakes       float64 `default:"1" help:"With --seeds: factor on all mistakes of scouts, 0 to 5."`
	TruthRuns      int     `default:"200" help:"With --seeds: how often each match is played over to know the truth."`
}

// invented is what the flags say of the events.
func (f *studyFlags) invented() generate.Options {
	o := generate.Defaults()
	o.Teams, o.MatchesPerTeam, o.Scouts = f.Teams, f.MatchesPerTeam, f.Scouts
	o.Watched, o.Careless, o.Mistakes = f.Watched, f.Careless, f.Mistakes
	return o
}

// study measures on invented events.
func (c *backtestCommand) study(s *streams, opt backtest.Options) error {
	g, _, err := inventedGame(c.Game)
	if err != nil {
		return err
	}
	if c.TruthRuns < 2 {
		return badInput(fmt.Errorf("--truth-runs %d: play each match over at least twice", c.TruthRuns))
	}
	events := c.invented()
	estimators := c.Estimator
	if len(estimators) == 1 && c.Scouts > 0 { // nothing to compare with was named: all
		estimators = contrib.Estimators()
	} else if len(estimators) == 1 {
		estimators = contrib.Estimators()[:3] // averages need records
	}
	r, err := study.Run(g, study.Options{
		Seeds: c.Seeds, First: c.FirstSeed, Events: events, Estimators: estimators, Backtest: opt, TruthRuns: c.TruthRuns,
	})
	return measured(c, s, r, err, writeStudyTable)
}

// measured writes what a study found as a table or as JSON. Its error is a bad
// flag, but for a study that somebody stopped.
func measured[R any](c *backtestCommand, s *streams, r R, err error, table func(io.Writer, R) error) error {
	switch {
	case errors.Is(err, context.Canceled):
		return err
	case err != nil:
		return badInput(err)
	case c.Format == "table":
		return table(s.Out, r)
	}
	return writeJSON(s.Out, r)
}

// selections measures the recommended call on invented events.
func (c *backtestCommand) selections(ctx context.Context, s *streams) error {
	g, _, err := inventedGame(c.Game)
	if err != nil {
		return err
	}
	if c.Seeds < 2 || c.FirstSeed < 0 || c.Plays < 1 || c.Worlds < 1 {
		return badInput(errors.New("--selection needs --seeds of 2 events or more, --plays and --worlds of 1 or more, and --first-seed from 0"))
	}
	events := c.invented()
	r, err := study.Selections(ctx, g, study.SelectionOptions{
		Events: c.Seeds, Seed: uint64(c.FirstSeed), Invent: events, Worlds: c.Worlds, Plays: c.Plays,
	})
	return measured(c, s, r, err, writeSelectionsTable)
}

// captainRuns of the rest of each invented event.
const captainRuns = 5000

// captains measures the chance to be a captain on invented events.
func (c *backtestCommand) captains(ctx context.Context, s *streams) error {
	g, _, err := inventedGame(c.Game)
	if err != nil {
		return err
	}
	if !(c.Hidden > 0 && c.Hidden < 1) {
		return badInput(fmt.Errorf("--hidden %v: give a share of the matches, above 0 and below 1", c.Hidden))
	}
	r, err := study.SeededBy(ctx, g, study.SeededOptions{
		Seeds: c.Seeds, First: c.FirstSeed, Events: c.invented(), Hidden: c.Hidden, Runs: captainRuns,
	})
	return measured(c, s, r, err, c.writeCaptainsTable)
}

func (c *backtestCommand) writeCaptainsTable(out io.Writer, r *study.Seeded) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "Brier score\torder as it is\tratio\t± se\tsmoothed in hindsight\t")
	fmt.Fprintf(w, "%.4f\t%.4f\t%.3f\t%.3f\t%.4f\t\n", r.Forecast, r.Naive, r.Ratio, r.RatioSE, r.Smoothed)
	if err := w.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	_, err := fmt.Fprintf(out, "\nThe chance to be a captain with the last %.0f %% of the matches hidden; %d invented events, seeds %d to %d.\n",
		100*c.Hidden, r.Events, r.First, r.First+r.Events-1)
	return err
}

func writeSelectionsTable(out io.Writer, r *study.SelectionReport) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "called by\twins\t± se\tworth\trecommended wins more\t± se\tworth more\t± se\t")
	for i := range r.Ways {
		x := &r.Ways[i]
		fmt.Fprintf(w, "%s\t%.2f %%\t%.2f\t%.4f\t%+.2f %%\t%.2f\t%+.4f\t%.4f\t\n", x.Way, 100*x.Wins, 100*x.WinsSE, x.Worth,
			100*x.WinsBehind.Mean, 100*x.WinsBehind.SE, x.WorthBehind.Mean, x.WorthBehind.SE)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	_, err := fmt.Fprintf(out, "\n%d invented events from seed %d, %d playoffs each with the same luck for all ways. Differences are paired by event.\nThe recommendation promised to win %.1f %%.\n", r.Events, r.Seed, r.Plays, 100*r.Promised)
	return err
}

func writeStudyTable(out io.Writer, r *study.Report) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "estimator\tBrier\tto oracle\tdifference ± se\tlog loss\tright side\tscore error\tto oracle\tdifference ± se\tCRPS\t80 % held\tpoints rmse\ttop 8 bias\t")
	o := &r.Oracle
	fmt.Fprintf(w, "oracle\t%.4f\t1\t\t%.4f\t%.1f %%\t%.2f\t1\t\t%.2f\t%.1f %%\t\t\t\n", o.Brier, o.LogLoss, 100*o.Correct, o.ScoreMAE, o.CRPS, 100*o.Coverage80)
	for i := range r.Rows {
		x := &r.Rows[i]
		fmt.Fprintf(w, "%s\t%.4f\t%.3f\t%+.4f ± %.4f\t%.4f\t%.1f %%\t%.2f\t%.3f\t%+.2f ± %.2f\t%.2f\t%.1f %%\t%.2f\t%+.2f\t\n", x.Estimator,
			x.Brier, x.BrierRatio, x.BrierDifference.Mean, x.BrierDifference.SE, x.LogLoss, 100*x.Correct,
			x.ScoreMAE, x.MAERatio, x.MAEDifference.Mean, x.MAEDifference.SE, x.CRPS, 100*x.Coverage80, x.PointsRMSE, x.Top8Bias)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(out, "\n%d invented events, seeds %d to %d. The difference is to the first estimator, paired by event.\n", r.Seeds, r.First, r.First+r.Seeds-1)
	return err
}

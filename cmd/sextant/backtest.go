package main

import (
	"errors"
	"fmt"
	"io"
	"text/tabwriter"

	"sextant/stats/backtest"
)

// backtestCommand walks through the event and tells how good forecasts would
// have been.
type backtestCommand struct {
	eventFiles
	From   float64 `default:"0.25" help:"Share of the played matches that is only learned from, 0 to 1."`
	Ahead  int     `default:"0" help:"Forecast each match this many matches before it."`
	Format string  `enum:"json,table" default:"json" help:"json or table."`
}

// Run prints the report.
func (c *backtestCommand) Run(s *streams) error {
	switch {
	case !(c.From >= 0 && c.From <= 1):
		return badInput(fmt.Errorf("--from %v: give a share of the played matches, from 0 to 1", c.From))
	case c.Ahead < 0:
		return badInput(fmt.Errorf("--ahead %d: give a number of matches, 0 or more", c.Ahead))
	}
	ev, err := c.load("")
	if err != nil {
		return err
	}
	report, err := backtest.Run(ev, backtest.Options{From: c.From, Ahead: c.Ahead})
	if errors.Is(err, backtest.ErrTooFew) {
		return c.noResult(err)
	}
	if err != nil {
		return err
	}
	if c.Format == "table" {
		return writeBacktestTable(s.Out, report)
	}
	return writeJSON(s.Out, report)
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
	_, err := fmt.Fprintf(out, "\n%d matches forecast, %d only learned from.\nBrier score %.4f (a coin: 0.2500), log loss %.4f (0.6931), right side %.1f %%.\nScores: mean error %.1f points, 80 %% intervals held %.1f %%.\n",
		s.Forecast, s.Skipped, s.Brier, s.LogLoss, 100*s.Correct, s.ScoreMAE, 100*s.Coverage80)
	return err
}

package main

import (
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/study"
)

// changes measures on invented events which robots that change are found.
func (c *checkCommand) changes(s *streams, g *game.Game, events generate.Options) error {
	events.Altered = c.Altered
	opt := study.JumpOptions{Seeds: c.Seeds, First: c.FirstSeed, Events: events, TruthRuns: c.TruthRuns, Every: c.Every}
	if c.Calibrate {
		fit, err := study.FitJumps(g, opt)
		if err != nil {
			return badInput(err)
		}
		if c.Format == "table" {
			return writeCheckFits(s.Out, []study.CheckFit{fit})
		}
		return writeJSON(s.Out, fit)
	}
	r, err := study.Jumps(g, opt)
	if err != nil {
		return badInput(err)
	}
	if c.Format == "table" {
		return writeJumpStudy(s.Out, r)
	}
	return writeJSON(s.Out, r)
}

func writeJumpStudy(out io.Writer, r *study.JumpReport) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "kind\tpoints gained or lost\tchanges\tfound\t± se\tmatches until then\t")
	for i := range r.Rows {
		x := &r.Rows[i]
		fmt.Fprintf(w, "%s\t%.0f to %.0f %%\t%d\t%.0f %%\t%.0f\t%.0f\t\n", x.Kind, 100*x.From, 100*x.To, x.Changes, 100*x.Found.Mean, 100*x.Found.SE, x.Late)
	}
	fmt.Fprintln(w, "\nprobability said\tso it was\tlooks at robots\t")
	for _, b := range r.Bins {
		fmt.Fprintf(w, "%.2f\t%.2f\t%d\t\n", b.Said, b.True, b.Suspects)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	_, err := fmt.Fprintf(out, "\n%d events from seed %d; robots suggested an event %.2f ± %.2f, of these wrong %.2f ± %.2f.\n",
		r.Events, r.First, r.Suggested.Mean, r.Suggested.SE, r.Wrong.Mean, r.Wrong.SE)
	return err
}

// duties measures on invented events which scouts that tire are told.
func (c *checkCommand) duties(s *streams, g *game.Game, events generate.Options) error {
	events.Tire = c.Tire
	events.Start = time.Date(2031, 3, 7, 9, 0, 0, 0, time.UTC)
	r, err := study.Duties(g, study.DutyOptions{Seeds: c.Seeds, First: c.FirstSeed, Events: events})
	switch {
	case err != nil:
		return badInput(err)
	case c.Format == "json":
		return writeJSON(s.Out, r)
	}
	w := tabwriter.NewWriter(s.Out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "limit\ttold of those who tire\tof the others\t")
	for _, l := range r.Limits {
		fmt.Fprintf(w, "%.1f\t%.1f %%\t%.1f %%\t\n", l.Limit, 100*l.Found, 100*l.False)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	_, err = fmt.Fprintf(s.Out, "\n%d events from seed %d, at the limit used: told %.1f ± %.1f %% of %d days of scouts who tire, after %.1f matches, and %.1f ± %.1f %% of %d days of others.\n",
		r.Events, r.First, 100*r.Found.Mean, 100*r.Found.SE, r.Tired, r.After, 100*r.False.Mean, 100*r.False.SE, r.Fresh)
	return err
}

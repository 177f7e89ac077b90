package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"

	"sextant/stats/check"
	"sextant/stats/contrib"
	"sextant/stats/record"
	"sextant/stats/study"
	"sextant/stats/table"
)

// checkCommand tells which records to doubt. With --seeds it measures on
// invented events, of which all mistakes are known, how many are found.
type checkCommand struct {
	Game         string  `placeholder:"FILE" help:"Game file (game.json). With --seeds the invented game Slackwater if left out."`
	Matches      string  `placeholder:"FILE" help:"Schedule and official results (matches.csv)."`
	Observations string  `placeholder:"FILE" help:"Scouts' records (observations.csv)."`
	Marks        string  `placeholder:"FILE" help:"Robots that are not what they were, and from which match on (marks.csv)."`
	Least        float64 `default:"0.1" help:"List what is wrong with at least this probability, above 0 and up to 1."`
	Format       string  `enum:"json,table" default:"json" help:"json or table."`
	FalseAlarms  float64 `default:"0.05" help:"With --seeds: false alarms a match that are put up with."`
	Calibrate    bool    `help:"With --seeds: learn how probabilities are to be corrected, instead of measuring."`
	Changes      bool    `help:"With --seeds: measure what is found of robots that change during the event, instead of mistakes."`
	Altered      float64 `default:"0.15" help:"With --changes: share of robots that change, 0 to 1."`
	Every        int     `default:"5" help:"With --changes: matches from one look at the event to the next."`
	Duty         bool    `help:"With --seeds: measure which scouts that tire are told, instead of mistakes."`
	Tire         float64 `default:"0.3" help:"With --duty: share of scouts who tire, 0 to 1."`
	studyFlags
}

// Run prints the suspects, most worth a look first.
func (c *checkCommand) Run(s *streams) error {
	if c.Seeds > 0 {
		return c.study(s)
	}
	if !(c.Least > 0 && c.Least <= 1) {
		return badInput(fmt.Errorf("--least %v: give a probability above 0 and up to 1", c.Least))
	}
	for _, needed := range [][2]string{{"--game", c.Game}, {"--matches", c.Matches}, {"--observations", c.Observations}} {
		if needed[1] == "" {
			return badInput(fmt.Errorf("missing flags: %s=FILE", needed[0]))
		}
	}
	ev, err := c.load()
	if err != nil {
		return err
	}
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil && !errors.Is(err, contrib.ErrNoData) {
		return err
	}
	report := check.Find(ev, fit, check.Options{Least: c.Least})
	if c.Format == "table" {
		return writeSuspects(s.Out, &report)
	}
	return writeJSON(s.Out, report)
}

// load reads the event. Records of teams that no match has are not refused as
// they are elsewhere: they are what this command is for.
func (c *checkCommand) load() (*record.Event, error) {
	files := eventFiles{Game: c.Game, Matches: c.Matches}
	ev, err := files.load(c.Marks)
	if err != nil {
		return nil, err
	}
	r, err := os.Open(c.Observations)
	if err != nil {
		return nil, badInput(err)
	}
	defer r.Close()
	if ev.Observations, err = table.ReadObservations(c.Observations, r, ev.Game); err != nil {
		return nil, badInput(err)
	}
	return ev, nil
}

func writeSuspects(out io.Writer, r *check.Report) error {
	if len(r.Suspects) == 0 {
		_, err := fmt.Fprintln(out, "Nothing to doubt.")
		return err
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "match\tkind\tteams\tscouts\tprobability\teffect\ton\twhy")
	for i := range r.Suspects {
		s := &r.Suspects[i]
		var teams []string
		for _, t := range s.Teams {
			teams = append(teams, string(t))
		}
		match := s.Match.String()
		if s.Play > 1 {
			match += fmt.Sprintf(" (play %d)", s.Play)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%.0f %%\t%.1f\t%s\t%s\n", match, s.Kind, strings.Join(teams, " "), strings.Join(s.Scouts, " "),
			100*s.Probability, s.Effect, s.Most, s.Reason)
	}
	return w.Flush()
}

// study measures on invented events.
func (c *checkCommand) study(s *streams) error {
	g, _, err := inventedGame(c.Game)
	if err != nil {
		return err
	}
	if c.TruthRuns < 2 || c.FirstSeed < 0 || !(c.FalseAlarms >= 0) {
		return badInput(errors.New("--seeds needs --truth-runs of 2 or more, and --first-seed and --false-alarms of 0 or more"))
	}
	events := c.invented()
	if c.Changes {
		return c.changes(s, g, events)
	}
	if c.Duty {
		return c.duties(s, g, events)
	}
	opt := study.CheckOptions{Seeds: c.Seeds, First: c.FirstSeed, Events: events, TruthRuns: c.TruthRuns, FalseAlarms: c.FalseAlarms}
	if c.Calibrate {
		fits, err := study.FitCheck(g, opt)
		if err != nil {
			return badInput(err)
		}
		if c.Format == "table" {
			return writeCheckFits(s.Out, fits)
		}
		return writeJSON(s.Out, fits)
	}
	r, err := study.Check(g, opt)
	if err != nil {
		return badInput(err)
	}
	if c.Format == "table" {
		return writeCheckStudy(s.Out, r)
	}
	return writeJSON(s.Out, r)
}

func writeCheckStudy(out io.Writer, r *study.CheckReport) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "mistake\tmade\tfound\tby that name\tceiling\tof the ceiling\tlisted\twith reason\t")
	for i := range r.Rows {
		x := &r.Rows[i]
		of := "-"
		if x.Ceiling > 0 {
			of = fmt.Sprintf("%.0f %%", 100*x.Found/x.Ceiling)
		}
		fmt.Fprintf(w, "%s\t%d\t%.0f %%\t%.0f %%\t%.0f %%\t%s\t%d\t%.0f %%\t\n", x.Kind, x.Faults, 100*x.Found, 100*x.Named, 100*x.Ceiling, of, x.Listed, 100*x.Precision)
	}
	fmt.Fprintln(w, "\nprobability said\tso it was\tsomething was wrong\tsuspects\t")
	for _, b := range r.Bins {
		fmt.Fprintf(w, "%.2f\t%.2f\t%.2f\t%d\t\n", b.Said, b.Named, b.True, b.Suspects)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	_, err := fmt.Fprintf(out, "\n%d matches; a probability of %.2f gives the false alarms allowed, %.2f to who knows the robots' true means.\n", r.Matches, r.Threshold, r.Ceiling)
	return err
}

// writeCheckFits prints the lines of the table in stats/check/calibrate.go.
func writeCheckFits(out io.Writer, fits []study.CheckFit) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "kind\tshift\tslope\tsuspects\tright\t")
	for i := range fits {
		f := &fits[i]
		fmt.Fprintf(w, "%s\t%.2f\t%.2f\t%d\t%d\t\n", f.Kind, f.Shift, f.Slope, f.Suspects, f.Right)
	}
	return w.Flush()
}

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"

	"sextant/stats/contrib"
	"sextant/stats/record"
	"sextant/stats/standings"
	"sextant/stats/table"
)

// standingsCommand plays the rest of the qualification many times and tells
// where each robot may end.
type standingsCommand struct {
	eventFiles
	Marks  string `placeholder:"FILE" help:"Robots that are not what they were, and from which match on (marks.csv)."`
	Runs   int    `default:"20000" help:"How often the rest of the event is played, 1 to 1,000,000."`
	Seed   uint64 `default:"1" help:"The same seed gives the same answer."`
	Team   string `placeholder:"TEAM" help:"Also tell what this team's chance to end among the first --top hangs on."`
	Top    int    `default:"0" placeholder:"N" help:"The place that the team wants to end at, or better; without it, among the captains."`
	Format string `enum:"json,table" default:"json" help:"json or table."`
}

// maxRuns keeps a slip of the keys from filling the memory.
const maxRuns = 1_000_000

// standingsReport is what the command prints.
type standingsReport struct {
	standings.Report
	Goal *standings.Goal `json:"goal,omitempty"`
}

// Run prints the standings to come.
func (c *standingsCommand) Run(ctx context.Context, s *streams) error {
	switch {
	case c.Runs < 1 || c.Runs > maxRuns:
		return badInput(fmt.Errorf("--runs %d: give a number from 1 to %d", c.Runs, maxRuns))
	case c.Top < 0:
		return badInput(fmt.Errorf("--top %d: give a place, 1 or more", c.Top))
	case c.Top > 0 && c.Team == "":
		return badInput(errors.New("--top asks for a team's goal: give --team too"))
	}
	ev, err := c.load(c.Marks)
	if err != nil {
		return err
	}
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if errors.Is(err, contrib.ErrNoData) {
		return c.noResult(err)
	}
	if err != nil {
		return err
	}
	o, err := standings.Forecast(ctx, ev, fit, standings.Options{Runs: c.Runs, Seed: c.Seed, Team: record.TeamID(c.Team)})
	if errors.Is(err, standings.ErrTeam) {
		return badInput(table.Error{File: c.Matches, Line: 1, Column: "teams", Message: fmt.Sprintf("--team %s: no such team is in the schedule", c.Team)})
	}
	if err != nil {
		return err
	}
	out := standingsReport{Report: o.Report}
	if o.Has() {
		top := c.Top
		if top == 0 {
			if top = o.Captains; top == 0 {
				return badInput(fmt.Errorf("the game %s has no selection, so nobody is a captain: give --top", c.Game))
			}
		}
		goal := o.Goal(top)
		out.Goal = &goal
	}
	if c.Format == "table" {
		return writeStandingsTable(s.Out, &out)
	}
	return writeJSON(s.Out, out)
}

func writeStandingsTable(out io.Writer, r *standingsReport) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "team\tmean rank\t80 %\tcaptain\tranking points\t")
	for i := range r.Teams {
		t := &r.Teams[i]
		fmt.Fprintf(w, "%s\t%.1f\t%d–%d\t%.1f %%\t%.2f\t\n", t.Team, t.MeanRank, t.Best, t.Worst, 100*t.Seeded, t.RankingPoints)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	if _, err := fmt.Fprintf(out, "\n%d runs of the matches to come.\n", r.Runs); err != nil || r.Goal == nil {
		return err
	}
	g := r.Goal
	if _, err := fmt.Fprintf(out, "Place %d or better: %.1f %%.\n", g.Top, 100*g.Chance); err != nil || len(g.Matters) == 0 {
		return err
	}
	fmt.Fprintln(w, "\nwhat matters\tchance\tthen\telse\t±\t")
	for _, m := range g.Matters[:min(len(g.Matters), 20)] {
		fmt.Fprintf(w, "%s\t%.0f %%\t%.1f %%\t%.1f %%\t%.1f\t\n", conditionText(&m.Happening), 100*m.Chance, 100*m.Given, 100*m.Otherwise, 200*m.SE)
	}
	return w.Flush()
}

func conditionText(c *standings.Happening) string {
	switch c.Outcome {
	case "":
		return fmt.Sprintf("%s %s gains %s", c.Match, c.Alliance, c.RankingPoint)
	case "tie":
		return fmt.Sprintf("%s is a tie", c.Match)
	}
	return fmt.Sprintf("%s %s wins", c.Match, c.Outcome)
}

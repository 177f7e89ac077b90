package main

import (
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"strings"
	"text/tabwriter"

	"sextant/stats/bracket"
	"sextant/stats/contrib"
	"sextant/stats/record"
	"sextant/stats/table"
)

// bracketCommand tells what the playoff is expected to bring.
type bracketCommand struct {
	eventFiles
	Marks     string `placeholder:"FILE" help:"Robots that are not what they were, and from which match on (marks.csv)."`
	Alliances string `required:"" placeholder:"FILE" help:"The alliances (alliances.csv)."`
	Runs      int    `default:"20000" help:"How many playoffs to draw."`
	Seed      uint64 `default:"1" help:"Where the random numbers start."`
	Format    string `enum:"json,table" default:"json" help:"json or table."`
}

// estimateOf estimates an event from its files.
func (f *eventFiles) estimateOf(marks string) (*record.Event, *contrib.Fit, error) {
	ev, err := f.load(marks)
	if err != nil {
		return nil, nil, err
	}
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if errors.Is(err, contrib.ErrNoData) {
		return nil, nil, f.noResult(err)
	}
	return ev, fit, err
}

// readFile reads a file by a reader of package table.
func readFile[T any](name string, read func(string, io.Reader) (T, error)) (T, error) {
	r, err := os.Open(name)
	if err != nil {
		var none T
		return none, badInput(err)
	}
	defer r.Close()
	out, err := read(name, r)
	return out, badInput(err)
}

// Run prints the chances.
func (c *bracketCommand) Run(s *streams) error {
	if c.Runs < 1 || c.Runs > 1e7 {
		return badInput(fmt.Errorf("--runs %d: draw from 1 to 10000000 playoffs", c.Runs))
	}
	alliances, err := readFile(c.Alliances, table.ReadAlliances)
	if err != nil {
		return err
	}
	ev, fit, err := c.estimateOf(c.Marks)
	if err != nil {
		return err
	}
	out, err := bracket.Simulate(fit, ev, alliances, c.Runs, rand.New(rand.NewPCG(c.Seed, 0)))
	var mismatch *bracket.MismatchError
	switch {
	case errors.As(err, &mismatch):
		return badInput(table.Error{File: c.Matches, Column: "teams", Message: err.Error()})
	case err != nil:
		return badInput(table.Error{File: c.Alliances, Message: err.Error()})
	}
	if c.Format == "table" {
		return writeBracketTable(s.Out, out)
	}
	return writeJSON(s.Out, out)
}

func writeBracketTable(out io.Writer, b *record.Bracket) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "alliance\tteams\twins\t± se\tfinal\t")
	for i := range b.Alliances {
		a := &b.Alliances[i]
		names := make([]string, len(a.Teams))
		for k, t := range a.Teams {
			names[k] = string(t)
		}
		fmt.Fprintf(w, "%d\t%s\t%.1f %%\t%.1f\t%.1f %%\t\n", a.Alliance, strings.Join(names, " "), 100*a.Win, 100*a.SE, 100*a.Final)
	}
	fmt.Fprintln(w, "\nnext\tround\tred\tblue\tred wins\t")
	for _, m := range b.Next {
		fmt.Fprintf(w, "%s\t%s\t%d\t%d\t%.1f %%\t\n", m.Match, m.Round, m.Red, m.Blue, 100*m.Chance.Red)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	_, err := fmt.Fprintf(out, "\n%d playoffs drawn (%s).\n", b.Runs, b.Format)
	return err
}

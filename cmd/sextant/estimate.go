package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strconv"
	"text/tabwriter"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/table"
)

// eventFiles are the files that an analysis reads. They are all it needs: no
// database and no server.
type eventFiles struct {
	Game         string `required:"" placeholder:"FILE" help:"Game file (game.json)."`
	Matches      string `required:"" placeholder:"FILE" help:"Schedule and official results (matches.csv)."`
	Observations string `placeholder:"FILE" help:"Scouts' records (observations.csv)."`
}

// load reads the event. Its errors name file, line and column.
func (f *eventFiles) load(marks string) (*record.Event, error) {
	data, err := os.ReadFile(f.Game)
	if err != nil {
		return nil, badInput(err)
	}
	g, err := game.Load(f.Game, data)
	if err != nil {
		return nil, badInput(err)
	}
	var files table.Files
	for _, file := range []struct {
		name string
		into **table.File
	}{{f.Matches, &files.Matches}, {f.Observations, &files.Observations}, {marks, &files.Marks}} {
		if file.name == "" {
			continue
		}
		r, err := os.Open(file.name)
		if err != nil {
			return nil, badInput(err)
		}
		defer r.Close()
		*file.into = &table.File{Name: file.name, R: r}
	}
	ev, err := table.Load(g, files)
	if err != nil {
		return nil, badInput(err)
	}
	return &ev, nil
}

// noResult is the answer to a schedule that has nothing to learn from.
func (f *eventFiles) noResult(what error) error {
	return badInput(table.Error{File: f.Matches, Line: 1, Column: "score", Message: what.Error()})
}

// estimateCommand prints what each robot contributes.
type estimateCommand struct {
	eventFiles
	Marks  string `placeholder:"FILE" help:"Robots that are not what they were, and from which match on (marks.csv)."`
	Prior  string `placeholder:"FILE" help:"Estimates of an earlier event of the season, as this command prints them in JSON. They are widened: robots change between events."`
	Format string `enum:"csv,json,table" default:"json" help:"csv, json or table."`
}

// Run prints the estimates.
func (c *estimateCommand) Run(s *streams) error {
	ev, err := c.load(c.Marks)
	if err != nil {
		return err
	}
	prior, err := readPrior(c.Prior)
	if err != nil {
		return err
	}
	fit, err := contrib.Estimate(ev, contrib.Options{Prior: prior})
	var bad *contrib.PriorError
	switch {
	case errors.Is(err, contrib.ErrNoData):
		return c.noResult(err)
	case errors.As(err, &bad):
		return badInput(table.Error{File: c.Prior, Message: bad.Err.Error()})
	case err != nil:
		return err
	}
	e := fit.Record()
	switch c.Format {
	case "csv":
		return writeEstimatesCSV(s.Out, &e)
	case "table":
		return writeEstimatesTable(s.Out, &e)
	}
	return writeJSON(s.Out, e)
}

// readPrior reads earlier estimates; no name, no estimates.
func readPrior(name string) (*record.Estimate, error) {
	if name == "" {
		return nil, nil
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, badInput(err)
	}
	var e record.Estimate
	if err := json.Unmarshal(data, &e); err != nil {
		at, column := int64(0), ""
		var syntax *json.SyntaxError
		var kind *json.UnmarshalTypeError
		switch {
		case errors.As(err, &syntax):
			at = syntax.Offset
		case errors.As(err, &kind):
			at, column = kind.Offset, kind.Field
		}
		line := 1 + bytes.Count(data[:min(int(at), len(data))], []byte("\n"))
		return nil, badInput(table.Error{File: name, Line: line, Column: column, Message: "not the estimates that sextant estimate prints in JSON: " + err.Error()})
	}
	return &e, nil
}

func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	if err := enc.Encode(v); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	return nil
}

// decimals writes a number for people and spreadsheets; nil is not known.
func decimals(v *float64, places int) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', places, 64)
}

// writeEstimatesCSV writes one row a team in order of number, and the mean and
// standard deviation of every action that somebody watched.
func writeEstimatesCSV(out io.Writer, e *record.Estimate) error {
	header := []string{"team", "matches", "watched", "points", "sd", "now", "now_sd", "working", "stops", "offence", "defence", "margin"}
	var actions []string
	if len(e.Teams) > 0 {
		actions = slices.Sorted(maps.Keys(e.Teams[0].Actions)) // all robots have the same
	}
	for _, a := range actions {
		header = append(header, "actions."+a, "actions."+a+".sd")
	}
	w := csv.NewWriter(out)
	rows := [][]string{header}
	for i := range e.Teams {
		t := &e.Teams[i]
		row := []string{string(t.Team), strconv.Itoa(t.Matches), strconv.Itoa(t.Watched)}
		for _, v := range []*float64{&t.Points, &t.SD, &t.Now, &t.NowSD, &t.Working, &t.Stops, t.LeastSquares.Offence, t.LeastSquares.Defence, t.LeastSquares.Margin} {
			row = append(row, decimals(v, 4))
		}
		for _, a := range actions {
			est := t.Actions[a]
			row = append(row, decimals(&est.Mean, 4), decimals(&est.SD, 4))
		}
		rows = append(rows, row)
	}
	if err := w.WriteAll(rows); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	return nil
}

// writeEstimatesTable writes the teams for people, the best first.
func writeEstimatesTable(out io.Writer, e *record.Estimate) error {
	teams := slices.Clone(e.Teams)
	slices.SortStableFunc(teams, func(a, b record.TeamEstimate) int {
		switch {
		case a.Now > b.Now:
			return -1
		case a.Now < b.Now:
			return 1
		}
		return record.CompareTeams(a.Team, b.Team)
	})
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "team\tmatches\twatched\tpoints\tsd\tnow\tsd\tworking\tstops\tOPR\tDPR\tCCWM\t")
	for i := range teams {
		t := &teams[i]
		fmt.Fprintf(w, "%s\t%d\t%d\t%.1f\t%.1f\t%.1f\t%.1f\t%.1f\t%.0f %%\t", t.Team, t.Matches, t.Watched, t.Points, t.SD, t.Now, t.NowSD, t.Working, 100*t.Stops)
		for _, v := range []*float64{t.LeastSquares.Offence, t.LeastSquares.Defence, t.LeastSquares.Margin} {
			if v == nil {
				fmt.Fprint(w, "-\t")
			} else {
				fmt.Fprintf(w, "%.1f\t", *v)
			}
		}
		fmt.Fprintln(w)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	_, err := fmt.Fprintf(out, "\n%s: %d matches, %d records. Points per match for the own alliance, points received by fouls left out.\n",
		e.Fit.Method, e.Fit.Matches, e.Fit.Records)
	return err
}

package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"text/tabwriter"

	"sextant/stats/contrib"
	"sextant/stats/record"
	"sextant/stats/selection"
	"sextant/stats/standings"
	"sextant/stats/table"
	"sextant/stats/worth"
)

// selectCommand tells what each call in alliance selection is worth.
type selectCommand struct {
	eventFiles
	Marks   string  `placeholder:"FILE" help:"Robots that are not what they were, and from which match on (marks.csv)."`
	Ranking string  `placeholder:"FILE" help:"The final ranking (ranking.csv); without it, the results' ranking points."`
	Moves   string  `placeholder:"FILE" help:"The selection so far (moves.json)."`
	Team    string  `required:"" placeholder:"TEAM" help:"Our team."`
	Event   string  `placeholder:"FILE" help:"The event's own settings (event.json): what a place is worth, changes to the selection."`
	Runs    int     `default:"2000" help:"How many worlds to draw at most."`
	SE      float64 `name:"se" default:"0.005" help:"Stop when standard errors of differences in worth are this small."`
	Seed    uint64  `default:"1" help:"Where the random numbers start."`
	Format  string  `enum:"json,table" default:"json" help:"json or table."`
}

// Run prints the advice.
func (c *selectCommand) Run(ctx context.Context, s *streams) error {
	switch {
	case c.Runs < 1 || c.Runs > 1e6:
		return badInput(fmt.Errorf("--runs %d: draw from 1 to 1000000 worlds", c.Runs))
	case !(c.SE >= 0):
		return badInput(fmt.Errorf("--se %v: give a standard error, 0 or more", c.SE))
	case !record.ValidTeam(c.Team):
		return badInput(fmt.Errorf("--team %q is not a team; write a number such as 40117", c.Team))
	}
	ev, err := c.load(c.Marks)
	if err != nil {
		return err
	}
	opt := worth.Options{Our: record.TeamID(c.Team), Seed: c.Seed}
	if c.Event != "" {
		data, err := os.ReadFile(c.Event)
		if err != nil {
			return badInput(err)
		}
		g, settings, err := ev.Game.Override(c.Event, data)
		if err != nil {
			return badInput(err)
		}
		ev.Game, opt.Worth = g, settings.PlaceWorth
	}
	var ranking []record.TeamID
	if c.Ranking != "" {
		if ranking, err = readFile(c.Ranking, table.ReadRanking); err != nil {
			return err
		}
	} else {
		ranking = rankingOf(ev)
	}
	board, err := selection.New(selection.RulesOf(ev.Game.Selection), ranking)
	if err != nil {
		return badInput(table.Error{File: cmp.Or(c.Ranking, c.Matches), Message: err.Error()})
	}
	if err := c.replay(board); err != nil {
		return err
	}
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if errors.Is(err, contrib.ErrNoData) {
		return c.noResult(err)
	}
	if err != nil {
		return err
	}
	e, err := worth.New(fit, board, opt)
	if err != nil {
		return badInput(table.Error{File: cmp.Or(c.Ranking, c.Matches), Message: err.Error()})
	}
	advice, err := e.Refine(ctx, c.SE, c.Runs, nil)
	if err != nil {
		return err
	}
	if c.Format == "table" {
		return writeAdviceTable(s.Out, advice)
	}
	return writeJSON(s.Out, advice)
}

// replay makes the moves of moves.json.
func (c *selectCommand) replay(b *selection.Board) error {
	if c.Moves == "" {
		return nil
	}
	data, err := os.ReadFile(c.Moves)
	if err != nil {
		return badInput(err)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	at := func() int { return 1 + bytes.Count(data[:dec.InputOffset()], []byte("\n")) }
	bad := func(column string, err error) error {
		return badInput(table.Error{File: c.Moves, Line: at(), Column: column, Message: err.Error()})
	}
	if open, err := dec.Token(); err != nil || open != json.Delim('[') {
		return bad("", errors.New("write the moves as an array: [{\"captain\": …, \"invites\": …, \"answer\": \"accepts\"}]"))
	}
	for n := 1; dec.More(); n++ {
		var m selection.Move
		if err := dec.Decode(&m); err != nil {
			return bad("", fmt.Errorf("move %d cannot be read: %w", n, err))
		}
		if err := b.Move(m); err != nil {
			return bad("invites", fmt.Errorf("move %d, %s invites %s: %w", n, m.Captain, m.Invites, err))
		}
	}
	if _, err := dec.Token(); err != nil {
		return bad("", errors.New("the array of moves does not end"))
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return bad("", errors.New("something stands after the moves; take it out"))
	}
	return nil
}

// rankingOf is the ranking that the results give. A venue's own goes first.
func rankingOf(ev *record.Event) []record.TeamID {
	var out []record.TeamID
	for _, p := range standings.Current(ev) {
		out = append(out, p.Team)
	}
	return out
}

func writeAdviceTable(out io.Writer, a *record.Advice) error {
	switch {
	case a.OnTheClock == "":
		fmt.Fprintln(out, "All picks are made.")
	case a.OurTurn:
		fmt.Fprintf(out, "Our turn: %s chooses for alliance %d, pick %d.\n", a.OnTheClock, a.OurAlliance, a.Pick)
	case a.OurAlliance > 0:
		fmt.Fprintf(out, "%s is on the clock; we are alliance %d and choose at pick %d.\n", a.OnTheClock, a.OurAlliance, a.Pick)
	default:
		fmt.Fprintf(out, "%s is on the clock; we are in no alliance yet.\n", a.OnTheClock)
	}
	if i := a.Invitation; i != nil {
		answer := map[string]string{record.Accepts: "accept", record.Declines: "decline"}[i.Answer]
		fmt.Fprintf(out, "If %s invites us: worth %.3f if we accept, %.3f if we decline, ± %.3f: %s.\n", i.Captain, i.Accept.Worth, i.Decline.Worth, i.SE, cmp.Or(answer, "cannot be told"))
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "team\tworth\tto first ± se\twins\tfinal\tbest in\there next turn\tpoints\treason")
	for i := range a.Candidates {
		c := &a.Candidates[i]
		mark := ""
		if c.Tie && i > 0 {
			mark = " tie"
		}
		fmt.Fprintf(w, "%s\t%.3f\t%+.3f ± %.3f%s\t%.1f %%\t%.1f %%\t%.0f %%\t%.0f %%\t%.1f\t%s\n", c.Team, c.Worth, c.Worth-a.Candidates[0].Worth, c.SE, mark,
			100*c.EventWin, 100*c.Final, 100*c.BestIn, 100*c.HereNextTurn, c.Points, c.Reason)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	_, err := fmt.Fprintf(out, "\n%d worlds drawn.\n", a.Runs)
	return err
}

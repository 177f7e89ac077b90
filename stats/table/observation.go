package table

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"sextant/stats/game"
	"sextant/stats/record"
)

// The endings of columns beside an action's own.
const (
	missedEnd = "_missed"
	triedEnd  = "_tried"
)

// ReadObservations reads observations.csv: one row per robot, match, play and
// scout. Needed columns are match, team and scout. An empty cell was not
// watched. Rows come in the order of WriteObservations. Name is the file's name
// for errors, which are Errors.
func ReadObservations(name string, r io.Reader, g *game.Game) ([]record.Observation, error) {
	rows, errs := readObservations(name, r, g)
	if len(errs) > 0 {
		return nil, errs
	}
	out := make([]record.Observation, len(rows))
	for i, row := range rows {
		out[i] = row.observation
	}
	sortObservations(out)
	return out, nil
}

type observationRow struct {
	observation record.Observation
	line        int
}

func readObservations(name string, r io.Reader, g *game.Game) ([]observationRow, Errors) {
	columns := observationColumns(g)
	known := func(c string) bool { return c == "play" || slices.Contains(columns, c) }
	s, errs := openSheet(name, r, known, "match", "team", "scout")
	if s == nil {
		return nil, errs
	}
	var out []observationRow
	lines := map[string]int{}
	s.each(func(r row) {
		o := record.Observation{Play: r.play(), Team: r.team("team"), Scout: r.word("scout"), Note: r.free("note", record.MaxText)}
		var ok bool
		o.Match, ok = r.match("match")
		if err := record.CheckScout(o.Scout); err != nil {
			r.fail("scout", "%v; write the name of who watched", err)
			return
		}
		if absent := r.flag("absent"); absent != nil && *absent {
			o.Absent = true
			r.nothingSeen(g)
		} else {
			r.seen(g, &o)
		}
		if !ok || o.Team == "" {
			return
		}
		if line, twice := lines[o.Key()]; twice {
			r.fail("", "line %d has the same match, play, team and scout; keep one row", line)
			return
		}
		lines[o.Key()] = r.line
		out = append(out, observationRow{o, r.line})
	})
	return out, s.errs
}

// observationColumns are the columns that WriteObservations writes, in order,
// without play.
func observationColumns(g *game.Game) []string {
	out := []string{"match", "team", "scout"}
	out = append(out, seenColumns(g)...)
	return append(out, "absent", "note")
}

// seenColumns are the columns that the game defines.
func seenColumns(g *game.Game) []string {
	var out []string
	for _, a := range g.Actions {
		out = append(out, a.ID)
		if a.Misses {
			out = append(out, a.ID+missedEnd)
		}
		if a.Tried {
			out = append(out, a.ID+triedEnd)
		}
	}
	for _, f := range g.Fouls {
		out = append(out, f.ID)
	}
	for _, q := range g.Questions {
		if q.When == "match" {
			out = append(out, q.ID)
		}
	}
	return out
}

// nothingSeen checks that the row of an absent robot is empty.
func (r row) nothingSeen(g *game.Game) {
	for _, column := range seenColumns(g) {
		if r.word(column) != "" {
			r.fail(column, "the robot was absent, so this cell is empty; empty it, or write 0 in the column absent")
		}
	}
}

// seen reads the cells that the game defines.
func (r row) seen(g *game.Game, o *record.Observation) {
	for i := range g.Actions {
		a := &g.Actions[i]
		if a.Kind == game.Choice {
			chosen := record.Chosen{Option: r.word(a.ID)}
			if _, ok := a.Option(chosen.Option); !ok && chosen.Option != "" {
				r.fail(a.ID, "%q is no option of %s; write one of %s, or leave the cell empty", clip(chosen.Option), a.Label(), optionIDs(a))
				continue
			}
			if a.Tried {
				chosen.Tried = r.flag(a.ID + triedEnd)
			}
			if chosen != (record.Chosen{}) {
				put(&o.Choices, a.ID, chosen)
			}
			continue
		}
		var tally record.Tally
		if a.Kind == game.Flag {
			if done := r.flag(a.ID); done != nil {
				n := 0.0
				if *done {
					n = 1
				}
				tally.Made = &n
			}
		} else {
			tally.Made = r.count(a.ID)
		}
		if a.Misses {
			tally.Missed = r.count(a.ID + missedEnd)
		}
		if tally != (record.Tally{}) {
			put(&o.Counts, a.ID, tally)
		}
	}
	for _, f := range g.Fouls {
		if n := r.count(f.ID); n != nil {
			put(&o.Fouls, f.ID, *n)
		}
	}
	for i := range g.Questions {
		q := &g.Questions[i]
		if q.When != "match" {
			continue
		}
		if a, ok := r.answer(q); ok {
			put(&o.Answers, q.ID, a)
		}
	}
}

// answer reads the answer to a question; false: the cell is empty or wrong.
func (r row) answer(q *game.Question) (game.Answer, bool) {
	var a game.Answer
	switch q.Kind {
	case "number":
		a.Number = r.number(q.ID)
		if a.Number == nil {
			return a, false
		}
	case "flag":
		a.Flag = r.flag(q.ID)
		if a.Flag == nil {
			return a, false
		}
	default:
		s := r.text(q.ID)
		if q.Kind == "choice" {
			s = strings.TrimSpace(s)
		}
		if s == "" {
			return a, false
		}
		a.Text = &s
	}
	if err := record.CheckAnswer(q, a); err != nil {
		r.fail(q.ID, "%v", err)
		return a, false
	}
	return a, true
}

func optionIDs(a *game.Action) string {
	ids := make([]string, len(a.Options))
	for i, o := range a.Options {
		ids[i] = o.ID
	}
	return strings.Join(ids, ", ")
}

// put sets a member of a map that is made when it is needed, so that "nothing
// watched" stays nil.
func put[V any](m *map[string]V, key string, v V) {
	if *m == nil {
		*m = map[string]V{}
	}
	(*m)[key] = v
}

func sortObservations(os []record.Observation) {
	slices.SortStableFunc(os, func(a, b record.Observation) int {
		return cmp.Or(
			a.Match.Compare(b.Match), cmp.Compare(record.PlayOf(a.Play), record.PlayOf(b.Play)),
			record.CompareTeams(a.Team, b.Team), cmp.Compare(a.Scout, b.Scout),
		)
	})
}

// WriteObservations writes observations.csv, ordered by match, play, team and
// scout, with all columns that the game defines, and play if any is above 1.
// Observations that were discarded are no evidence and are left out; timelines
// have no place in a table. What the game does not define is an error: it would
// be lost.
func WriteObservations(w io.Writer, g *game.Game, observations []record.Observation) error {
	rows := slices.DeleteFunc(slices.Clone(observations), func(o record.Observation) bool { return o.Discarded })
	sortObservations(rows)
	plays := slices.ContainsFunc(rows, func(o record.Observation) bool { return o.Play > 1 })
	columns := observationColumns(g)
	if plays {
		columns = slices.Insert(columns, 1, "play")
	}
	known := map[string]bool{"play": true}
	for _, column := range columns {
		known[column] = true
	}
	out := newWriter(w)
	out.row(columns)
	line := make([]string, len(columns))
	for i := range rows {
		cells := cellsOf(&rows[i])
		for column := range cells {
			if !known[column] {
				return fmt.Errorf("the observation of %s in %s by %s has a value of %q, which is not in the game", rows[i].Team, rows[i].Match, rows[i].Scout, clip(column))
			}
		}
		for j, column := range columns {
			line[j] = cells[column]
		}
		out.row(line)
	}
	return out.close()
}

// cellsOf are the cells of an observation by column; what is not in it was not
// watched.
func cellsOf(o *record.Observation) map[string]string {
	cells := map[string]string{
		"match": o.Match.String(), "play": fmt.Sprint(record.PlayOf(o.Play)), "team": string(o.Team),
		"scout": guard(o.Scout), "absent": formatFlag(o.Absent), "note": guard(o.Note),
	}
	if o.Absent {
		return cells
	}
	for id, t := range o.Counts {
		if t.Made != nil {
			cells[id] = formatNumber(*t.Made)
		}
		if t.Missed != nil {
			cells[id+missedEnd] = formatNumber(*t.Missed)
		}
	}
	for id, c := range o.Choices {
		if c.Option != "" {
			cells[id] = c.Option
		}
		if c.Tried != nil {
			cells[id+triedEnd] = formatFlag(*c.Tried)
		}
	}
	for id, n := range o.Fouls {
		cells[id] = formatNumber(n)
	}
	for id, a := range o.Answers {
		switch {
		case a.Number != nil:
			cells[id] = formatNumber(*a.Number)
		case a.Flag != nil:
			cells[id] = formatFlag(*a.Flag)
		case a.Text != nil:
			cells[id] = guard(*a.Text)
		}
	}
	return cells
}

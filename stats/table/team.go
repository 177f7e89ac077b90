package table

import (
	"encoding/csv"
	"io"
	"slices"

	"sextant/stats/record"
)

// ReadTeams reads teams.csv: team,name[,pit]. Teams come in order of number.
// Name is the file's name for errors, which are Errors.
func ReadTeams(name string, r io.Reader) ([]record.Team, error) {
	rows, errs := readTeams(name, r)
	if len(errs) > 0 {
		return nil, errs
	}
	return rows, nil
}

func readTeams(name string, r io.Reader) ([]record.Team, Errors) {
	known := func(c string) bool { return slices.Contains([]string{"team", "name", "pit"}, c) }
	s, errs := openSheet(name, r, known, "team", "name")
	if s == nil {
		return nil, errs
	}
	var out []record.Team
	lines := map[record.TeamID]int{}
	s.each(func(r row) {
		t := record.Team{ID: r.team("team"), Name: r.name("name"), Pit: r.name("pit")}
		if t.ID == "" {
			return
		}
		if line, twice := lines[t.ID]; twice {
			r.fail("team", "team %s stands in line %d already; keep one row", t.ID, line)
			return
		}
		lines[t.ID] = r.line
		out = append(out, t)
	})
	sortTeams(out)
	return out, s.errs
}

func sortTeams(teams []record.Team) {
	slices.SortFunc(teams, func(a, b record.Team) int { return record.CompareTeams(a.ID, b.ID) })
}

// WriteTeams writes teams.csv in order of team number, with the column pit if
// any team has one.
func WriteTeams(w io.Writer, teams []record.Team) error {
	teams = slices.Clone(teams)
	sortTeams(teams)
	pits := slices.ContainsFunc(teams, func(t record.Team) bool { return t.Pit != "" })
	out := newWriter(w)
	header := []string{"team", "name"}
	if pits {
		header = append(header, "pit")
	}
	out.row(header)
	for _, t := range teams {
		cells := []string{string(t.ID), guard(t.Name)}
		if pits {
			cells = append(cells, guard(t.Pit))
		}
		out.row(cells)
	}
	return out.close()
}

// writer writes rows with the line ends of RFC 4180 and keeps the first error.
type writer struct {
	csv *csv.Writer
	err error
}

func newWriter(w io.Writer) *writer {
	out := &writer{csv: csv.NewWriter(w)}
	out.csv.UseCRLF = true
	return out
}

func (w *writer) row(cells []string) {
	if w.err == nil {
		w.err = w.csv.Write(cells)
	}
}

func (w *writer) close() error {
	w.csv.Flush()
	if w.err != nil {
		return w.err
	}
	return w.csv.Error()
}

package table

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"

	"sextant/stats/record"
)

// ReadAlliances reads alliances.csv: alliance,captain,picks. Picks stand
// between single spaces; an alliance may be short. Alliances come in order of
// their numbers, which run from 1 without gaps; a team stands in one of them.
// Name is the file's name for errors, which are Errors.
func ReadAlliances(name string, r io.Reader) ([]record.SelectedAlliance, error) {
	known := func(c string) bool { return slices.Contains([]string{"alliance", "captain", "picks"}, c) }
	s, errs := openSheet(name, r, known, "alliance", "captain", "picks")
	if s == nil {
		return nil, errs
	}
	var out []record.SelectedAlliance
	lines := map[record.TeamID]int{}
	numbers := map[int]int{}
	s.each(func(r row) {
		a := record.SelectedAlliance{Alliance: r.rank("alliance"), Captain: r.team("captain"), Picks: r.teams("picks")}
		if a.Picks == nil {
			a.Picks = []record.TeamID{}
		}
		if a.Alliance == 0 || a.Captain == "" {
			return
		}
		if line, twice := numbers[a.Alliance]; twice {
			r.fail("alliance", "alliance %d stands in line %d already; keep one row", a.Alliance, line)
			return
		}
		numbers[a.Alliance] = r.line
		for k, t := range a.Teams() {
			column := "picks"
			if k == 0 {
				column = "captain"
			}
			if line, twice := lines[t]; twice {
				r.fail(column, "team %s stands in line %d already; a team is in one alliance", t, line)
			}
			lines[t] = r.line
		}
		out = append(out, a)
	})
	slices.SortFunc(out, func(a, b record.SelectedAlliance) int { return cmp.Compare(a.Alliance, b.Alliance) })
	for k := range out {
		if out[k].Alliance != k+1 {
			s.errs.add(Error{File: name, Column: "alliance", Message: fmt.Sprintf("there is no alliance %d; number the alliances from 1 without gaps", k+1)})
			break
		}
	}
	if len(out) == 0 && len(s.errs) == 0 {
		s.errs.add(Error{File: name, Line: 1, Column: "alliance", Message: "there is no alliance; write a row for each"})
	}
	if err := s.errs.err(); err != nil {
		return nil, err
	}
	return out, nil
}

// WriteAlliances writes alliances.csv.
func WriteAlliances(w io.Writer, alliances []record.SelectedAlliance) error {
	out := newWriter(w)
	out.row([]string{"alliance", "captain", "picks"})
	for i := range alliances {
		a := &alliances[i]
		out.row([]string{strconv.Itoa(a.Alliance), string(a.Captain), joinTeams(a.Picks)})
	}
	return out.close()
}

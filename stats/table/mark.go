package table

import (
	"cmp"
	"io"
	"slices"
	"strings"

	"sextant/stats/record"
)

// ReadMarks reads marks.csv: team,match,kind[,note]: from this match on the
// robot is not what it was. Marks come in order of match, then team. Name is
// the file's name for errors, which are Errors.
func ReadMarks(name string, r io.Reader) ([]record.Mark, error) {
	rows, errs := readMarks(name, r)
	if len(errs) > 0 {
		return nil, errs
	}
	out := make([]record.Mark, len(rows))
	for i, row := range rows {
		out[i] = row.mark
	}
	sortMarks(out)
	return out, nil
}

type markRow struct {
	mark record.Mark
	line int
}

func readMarks(name string, r io.Reader) ([]markRow, Errors) {
	known := func(c string) bool { return slices.Contains([]string{"team", "match", "kind", "note"}, c) }
	s, errs := openSheet(name, r, known, "team", "match", "kind")
	if s == nil {
		return nil, errs
	}
	var out []markRow
	lines := map[record.Mark]int{}
	s.each(func(r row) {
		m := record.Mark{Team: r.team("team"), Kind: r.word("kind"), Note: r.free("note", record.MaxText)}
		var ok bool
		m.Match, ok = r.match("match")
		if !slices.Contains(record.MarkKinds(), m.Kind) {
			r.fail("kind", "%q is no kind of mark; write one of %s", clip(m.Kind), strings.Join(record.MarkKinds(), ", "))
			return
		}
		if !ok || m.Team == "" {
			return
		}
		if line, twice := lines[m]; twice {
			r.fail("", "line %d says the same; keep one row", line)
			return
		}
		lines[m] = r.line
		out = append(out, markRow{m, r.line})
	})
	return out, s.errs
}

func sortMarks(marks []record.Mark) {
	slices.SortStableFunc(marks, func(a, b record.Mark) int {
		return cmp.Or(a.Match.Compare(b.Match), record.CompareTeams(a.Team, b.Team), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Note, b.Note))
	})
}

// WriteMarks writes marks.csv, ordered by match and team, without those that
// were taken back.
func WriteMarks(w io.Writer, marks []record.Mark) error {
	rows := slices.DeleteFunc(slices.Clone(marks), func(m record.Mark) bool { return m.Discarded })
	sortMarks(rows)
	out := newWriter(w)
	out.row([]string{"team", "match", "kind", "note"})
	for _, m := range slices.Compact(rows) {
		out.row([]string{string(m.Team), m.Match.String(), m.Kind, guard(m.Note)})
	}
	return out.close()
}

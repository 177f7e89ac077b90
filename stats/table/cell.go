package table

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"sextant/stats/record"
)

// dangerous are the first characters of a cell that a spreadsheet may run.
const dangerous = "=+-@\t"

// guard puts an apostrophe before a text that a spreadsheet would run. A text
// that looks guarded already gets one more, so that unguard gives every text
// back as it was. Numbers are not texts: -3 needs no guard.
func guard(s string) string {
	if runs(s) {
		return "'" + s
	}
	return s
}

// unguard takes off what guard puts on.
func unguard(s string) string {
	if strings.HasPrefix(s, "'") && runs(s) {
		return s[1:]
	}
	return s
}

// runs reports whether a text begins, after any apostrophes, with a character
// that starts a formula.
func runs(s string) bool {
	s = strings.TrimLeft(s, "'")
	return s != "" && strings.IndexByte(dangerous, s[0]) >= 0
}

// numberForm is what counts as a number in a file: no exponent, no NaN, no
// hexadecimal, no digits grouped.
var numberForm = regexp.MustCompile(`^-?[0-9]{1,20}(\.[0-9]{1,40})?$`)

// number reads a cell; nil: empty, or no number, which is noted.
func (r row) number(column string) *float64 {
	s := r.word(column)
	if s == "" {
		return nil
	}
	if !numberForm.MatchString(s) {
		r.fail(column, "%q is not a number; write digits, with a point for fractions, or leave the cell empty", clip(s))
		return nil
	}
	n, err := strconv.ParseFloat(s, 64)
	if err != nil {
		r.fail(column, "%q is not a number: %v", clip(s), err)
		return nil
	}
	if n == 0 {
		n = 0 // "-0" is zero
	}
	return &n
}

// score reads a number that may be a score.
func (r row) score(column string) *float64 {
	n := r.number(column)
	if n == nil {
		return nil
	}
	if err := record.CheckScore(*n); err != nil {
		r.fail(column, "%v", err)
		return nil
	}
	return n
}

// count reads a whole number from 0.
func (r row) count(column string) *float64 {
	n := r.number(column)
	if n == nil {
		return nil
	}
	if err := record.CheckCount(*n); err != nil {
		r.fail(column, "%v; leave the cell empty when nobody watched", err)
		return nil
	}
	return n
}

// flag reads 0 or 1.
func (r row) flag(column string) *bool {
	yes := false
	switch s := r.word(column); s {
	case "":
		return nil
	case "1":
		yes = true
	case "0":
	default:
		r.fail(column, "%q is neither 0 nor 1; write 0 for no, 1 for yes, or leave the cell empty when nobody watched", clip(s))
		return nil
	}
	return &yes
}

// free reads a text of at most limit characters.
func (r row) free(column string, limit int) string {
	s := r.text(column)
	if err := record.CheckText(s, limit); err != nil {
		r.fail(column, "%v", err)
		return ""
	}
	return s
}

// name reads a text of at most record.MaxName characters on one line.
func (r row) name(column string) string {
	s := r.free(column, record.MaxName)
	if strings.ContainsAny(s, "\n\t") {
		r.fail(column, "a name stands on one line, without tabs; take the line break or tab out")
		return ""
	}
	return s
}

// team reads a team's number; "": none, which is noted.
func (r row) team(column string) record.TeamID {
	s := r.word(column)
	if s == "" {
		r.fail(column, "the team is missing; write its number, such as 40117")
		return ""
	}
	if !record.ValidTeam(s) {
		r.fail(column, "%q is not a team; write a number of up to five digits, with a capital letter for a second robot, such as 40117 or 40117B", clip(s))
		return ""
	}
	return record.TeamID(s)
}

// teams reads team numbers between spaces, none of them twice.
func (r row) teams(column string) []record.TeamID {
	var out []record.TeamID
	for _, s := range strings.Fields(r.text(column)) {
		t := record.TeamID(s)
		switch {
		case !record.ValidTeam(s):
			r.fail(column, "%q is not a team; write numbers of up to five digits with single spaces between them, such as 40117 40123 40102", clip(s))
		case slices.Contains(out, t):
			r.fail(column, "team %s stands twice; a robot plays once in a match", s)
		default:
			out = append(out, t)
		}
	}
	return out
}

// match reads a match.
func (r row) match(column string) (record.MatchID, bool) {
	s := r.word(column)
	if s == "" {
		r.fail(column, "the match is missing; write W, Q, P or F and a number, such as Q31")
		return record.MatchID{}, false
	}
	id, err := record.ParseMatch(s)
	if err != nil {
		r.fail(column, "%v", err)
		return record.MatchID{}, false
	}
	return id, true
}

// play reads which play of a match a row is about; an empty cell is the first.
func (r row) play() int {
	n := r.number("play")
	if n == nil {
		return 1
	}
	if *n != float64(int(*n)) || *n < 1 || *n > record.MaxPlay {
		r.fail("play", "a play is a whole number from 1 to %d", record.MaxPlay)
		return 1
	}
	return int(*n)
}

// rank reads a place, from 1.
func (r row) rank(column string) int {
	n := r.number(column)
	if n == nil || *n != float64(int(*n)) || *n < 1 || *n > MaxRows {
		r.fail(column, "the place is a whole number from 1; write one")
		return 0
	}
	return int(*n)
}

// formatNumber writes a number as number reads it.
func formatNumber(n float64) string { return strconv.FormatFloat(n+0, 'f', -1, 64) }

// formatOptional writes a number, or nothing for nil.
func formatOptional(n *float64) string {
	if n == nil {
		return ""
	}
	return formatNumber(*n)
}

// formatFlag writes 0 or 1.
func formatFlag(b bool) string {
	if b {
		return "1"
	}
	return "0"
}

func joinTeams(teams []record.TeamID) string {
	words := make([]string, len(teams))
	for i, t := range teams {
		words[i] = string(t)
	}
	return strings.Join(words, " ")
}

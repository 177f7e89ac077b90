package table

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Limits against input that is made to hurt.
const (
	MaxBytes = 10 << 20
	MaxRows  = 100000
	maxCell  = 8000      // bytes of a cell: a text of the longest kind, in any script
	maxLine  = 256 << 10 // bytes of a line
)

// sheet is one file that is being read.
type sheet struct {
	name   string
	csv    *csv.Reader
	header []string
	at     map[string]int // column name → place
	errs   Errors
}

// row is one row of a sheet.
type row struct {
	s     *sheet
	line  int
	cells []string
}

// openSheet reads a whole file and its header. Known says whether a column may
// stand in it; needed ones must. A nil sheet means that the rows cannot be read.
func openSheet(name string, r io.Reader, known func(string) bool, needed ...string) (*sheet, Errors) {
	fail := func(line int, column, format string, args ...any) Errors {
		return Errors{{File: name, Line: line, Column: column, Message: fmt.Sprintf(format, args...)}}
	}
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, fail(0, "", "the file cannot be read: %v", err)
	}
	if len(data) > MaxBytes {
		return nil, fail(0, "", "the file is larger than %d MB; split it", MaxBytes>>20)
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if es := checkEncoding(data, fail); es != nil {
		return nil, es
	}
	if es := checkLines(data, fail); es != nil {
		return nil, es
	}
	s := &sheet{name: name, csv: csv.NewReader(bytes.NewReader(data)), at: map[string]int{}}
	s.csv.FieldsPerRecord = -1
	s.csv.ReuseRecord = true
	header, err := s.csv.Read()
	if errors.Is(err, io.EOF) {
		return nil, fail(1, "", "the file is empty; write a first row that names the columns%s", such(needed))
	}
	if err != nil {
		return nil, Errors{s.syntax(err)}
	}
	if len(header) > 500 {
		return nil, fail(1, "", "the file has %d columns; 500 is the limit", len(header))
	}
	if len(header) == 1 {
		for sep, what := range map[string]string{";": "semicolons", "\t": "tabs"} {
			if strings.Contains(header[0], sep) {
				return nil, fail(1, "", "the cells are separated by %s; save the file with commas", what)
			}
		}
	}
	for i, column := range header {
		column = strings.TrimSpace(unguard(column))
		s.header = append(s.header, column)
		line, _ := s.csv.FieldPos(i)
		add := func(format string, args ...any) {
			s.errs.add(Error{File: name, Line: line, Column: label(column), Message: fmt.Sprintf(format, args...)})
		}
		_, twice := s.at[column]
		switch {
		case column == "":
			add("column %d has no name; name it or take it out", i+1)
		case twice:
			add("the column stands twice; keep one")
		case !known(column):
			add("no such column in this form or this game; correct its spelling or take the column out")
		}
		if !twice {
			s.at[column] = i
		}
	}
	for _, column := range needed {
		if _, ok := s.at[column]; !ok {
			s.errs.add(Error{File: name, Line: 1, Column: column, Message: "the column is missing; add it"})
			return nil, s.errs
		}
	}
	return s, s.errs
}

// checkEncoding refuses what is not UTF-8 text, with the likely reason.
func checkEncoding(data []byte, fail func(int, string, string, ...any) Errors) Errors {
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")):
		return fail(0, "", "the file is UTF-16; save it as CSV in UTF-8")
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return fail(0, "", "the file is a spreadsheet or an archive; save the sheet as CSV in UTF-8")
	}
	for i := 0; i < len(data); {
		r, n := utf8.DecodeRune(data[i:])
		line := func() int { return 1 + bytes.Count(data[:i], []byte("\n")) }
		switch {
		case r == utf8.RuneError && n == 1:
			return fail(line(), "", "the text is not UTF-8; save the file as CSV in UTF-8")
		case r == 0:
			return fail(line(), "", "the file has a zero byte and is no text; save it as CSV in UTF-8")
		}
		i += n
	}
	return nil
}

// checkLines refuses a line that no table has, before it is cut into cells.
func checkLines(data []byte, fail func(int, string, string, ...any) Errors) Errors {
	line := 1
	for text := range bytes.Lines(data) {
		if len(text) > maxLine {
			return fail(line, "", "the line has %d bytes; %d is the limit: is this the right file?", len(text), maxLine)
		}
		line++
	}
	return nil
}

// syntax puts what the CSV reader found into a sentence.
func (s *sheet) syntax(err error) Error {
	out := Error{File: s.name, Message: fmt.Sprintf("this is not CSV: %v", err)}
	var p *csv.ParseError
	if errors.As(err, &p) {
		out.Line = p.StartLine
		switch {
		case errors.Is(p.Err, csv.ErrBareQuote):
			out.Line = p.Line
			out.Message = fmt.Sprintf("character %d is a quotation mark inside a cell that does not begin with one; put the whole cell in quotation marks and double those inside", p.Column)
		case errors.Is(p.Err, csv.ErrQuote):
			out.Message = "a quotation mark is not closed, or text follows a closed one; put the whole cell in quotation marks and double those inside"
		default:
			out.Message = fmt.Sprintf("this is not CSV: %v", p.Err)
		}
	}
	return out
}

// each calls f for every row that has the form of the header. Rows of empty
// cells only, which spreadsheets leave behind, are passed over.
func (s *sheet) each(f func(row)) {
	for n := 0; ; {
		cells, err := s.csv.Read()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			s.errs.add(s.syntax(err)) // what follows a broken quotation cannot be trusted
			return
		}
		if !slices.ContainsFunc(cells, func(c string) bool { return strings.TrimSpace(c) != "" }) {
			continue
		}
		r := row{s: s, cells: cells}
		r.line, _ = s.csv.FieldPos(0)
		if n++; n > MaxRows {
			r.fail("", "there are more than %d rows; split the file", MaxRows)
			return
		}
		if len(cells) != len(s.header) {
			r.fail("", "the row has %d cells and the header %d; give every row a cell for each column", len(cells), len(s.header))
			continue
		}
		if i := slices.IndexFunc(cells, func(c string) bool { return len(c) > maxCell }); i >= 0 {
			r.fail(s.header[i], "the cell has %d bytes; %d is the limit: shorten it", len(cells[i]), maxCell)
			continue
		}
		f(r)
	}
}

// fail notes an error of a cell, or of the whole row when column is "".
func (r row) fail(column, format string, args ...any) {
	line := r.line
	if i, ok := r.s.at[column]; ok && i < len(r.cells) {
		line, _ = r.s.csv.FieldPos(i)
	}
	r.s.errs.add(Error{File: r.s.name, Line: line, Column: column, Message: fmt.Sprintf(format, args...)})
}

// text is the cell of a column with its guard taken off; "" where there is no
// such column.
func (r row) text(column string) string {
	i, ok := r.s.at[column]
	if !ok {
		return ""
	}
	return unguard(r.cells[i])
}

// word is a cell without spaces around it.
func (r row) word(column string) string { return strings.TrimSpace(r.text(column)) }

// such names the needed columns for a message.
func such(needed []string) string {
	if len(needed) == 0 {
		return ""
	}
	return ": " + strings.Join(needed, ", ")
}

// label is a column's name for a message, on one line.
func label(column string) string {
	if strings.ContainsFunc(column, unicode.IsControl) {
		return strconv.Quote(clip(column))
	}
	return clip(column)
}

// clip shortens a text of the input for a message.
func clip(s string) string {
	if utf8.RuneCountInString(s) <= 40 {
		return s
	}
	return string([]rune(s)[:40]) + "…"
}

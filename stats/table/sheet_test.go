package table

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// rowsOf reads a file with any columns.
func rowsOf(t *testing.T, text string) ([][]string, Errors) {
	t.Helper()
	s, errs := openSheet("x.csv", strings.NewReader(text), func(string) bool { return true })
	if s == nil {
		return nil, errs
	}
	var rows [][]string
	s.each(func(r row) {
		cells := make([]string, len(s.header))
		for i, column := range s.header {
			cells[i] = r.text(column)
		}
		rows = append(rows, cells)
	})
	return rows, s.errs
}

// TestRFC4180 has the examples of RFC 4180, section 2, below a header, since a
// file without one is not read. The line break within a cell (rule 6) arrives
// as a line feed.
func TestRFC4180(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, text string
		want       [][]string
	}{
		{"Rule1Records", "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"Rule2NoLastBreak", "aaa,bbb,ccc\r\nzzz,yyy,xxx", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"Rule4OneRecord", "aaa,bbb,ccc", [][]string{{"aaa", "bbb", "ccc"}}},
		{"Rule4Spaces", "aaa, bbb ,ccc", [][]string{{"aaa", " bbb ", "ccc"}}},
		{"Rule5Quoted", "\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"Rule6Breaks", "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", [][]string{{"aaa", "b\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"Rule7Quotes", "\"aaa\",\"b\"\"bb\",\"ccc\"", [][]string{{"aaa", "b\"bb", "ccc"}}},
	}
	for _, tt := range tests {
		for ends, text := range map[string]string{"CRLF": tt.text, "LF": strings.ReplaceAll(tt.text, "\r\n", "\n")} {
			for mark, before := range map[string]string{"": "", "BOM": "\ufeff"} {
				t.Run(tt.name+ends+mark, func(t *testing.T) {
					t.Parallel()
					got, errs := rowsOf(t, before+"field_1,field_2,field_3\r\n"+text)
					if len(errs) > 0 {
						t.Fatal(errs)
					}
					if diff := cmp.Diff(tt.want, got); diff != "" {
						t.Errorf("rows (-want +got):\n%s", diff)
					}
				})
			}
		}
	}
}

// TestRFC4180Written: what is written follows the same rules.
func TestRFC4180Written(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	w := newWriter(&b)
	w.row([]string{"aaa", "b\nbb", "c\"c,c", ""})
	if err := w.close(); err != nil {
		t.Fatal(err)
	}
	if got, want := b.String(), "aaa,\"b\r\nbb\",\"c\"\"c,c\",\r\n"; got != want {
		t.Errorf("written %q, want %q", got, want)
	}
}

func TestSheetRefuses(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, text string
		want       string // the whole first error
	}{
		{"Empty", "", "x.csv:1: the file is empty; write a first row that names the columns"},
		{"BareQuote", "a,b\n1,2\"\n", "x.csv:2: character 4 is a quotation mark inside a cell that does not begin with one; put the whole cell in quotation marks and double those inside"},
		{"OpenQuote", "a,b\n1,\"2\n3,4\n", "x.csv:2: a quotation mark is not closed, or text follows a closed one; put the whole cell in quotation marks and double those inside"},
		{"ShortRow", "a,b\n1\n", "x.csv:2: the row has 1 cells and the header 2; give every row a cell for each column"},
		{"LongRow", "a,b\n1,2,3\n", "x.csv:2: the row has 3 cells and the header 2; give every row a cell for each column"},
		{"Latin1", "a,b\n1,\xe9\n", "x.csv:2: the text is not UTF-8; save the file as CSV in UTF-8"},
		{"UTF16", "\xff\xfea\x00,\x00", "x.csv: the file is UTF-16; save it as CSV in UTF-8"},
		{"Spreadsheet", "PK\x03\x04\x14", "x.csv: the file is a spreadsheet or an archive; save the sheet as CSV in UTF-8"},
		{"ZeroByte", "a,b\n1,\x00\n", "x.csv:2: the file has a zero byte and is no text; save it as CSV in UTF-8"},
		{"Semicolons", "a;b\n1;2\n", "x.csv:1: the cells are separated by semicolons; save the file with commas"},
		{"Tabs", "a\tb\n1\t2\n", "x.csv:1: the cells are separated by tabs; save the file with commas"},
		{"NoName", "a,,c\n1,2,3\n", "x.csv:1: column 2 has no name; name it or take it out"},
		{"ColumnTwice", "a,b,a\n1,2,3\n", "x.csv:1: column a: the column stands twice; keep one"},
		{"LongCell", "a,b\n1," + strings.Repeat("x", 9000) + "\n", "x.csv:2: column b: the cell has 9000 bytes; 8000 is the limit: shorten it"},
		{"ManyColumns", strings.Repeat("a,", 600) + "a\n", "x.csv:1: the file has 601 columns; 500 is the limit"},
		{"LongLine", "a,b\n1,2\n" + strings.Repeat(",", 300<<10) + "\n", "x.csv:3: the line has 307201 bytes; 262144 is the limit: is this the right file?"},
		{"ManyRows", "a\n" + strings.Repeat("1\n", MaxRows+1), "x.csv:100002: there are more than 100000 rows; split the file"},
		{"TooLarge", "a\n" + strings.Repeat("1\n", MaxBytes/2), "x.csv: the file is larger than 10 MB; split it"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, errs := rowsOf(t, tt.text)
			if len(errs) == 0 {
				t.Fatal("no error")
			}
			if got := errs[0].Error(); got != tt.want {
				t.Errorf("error %q\nwant  %q", got, tt.want)
			}
		})
	}
}

func TestErrorsCapped(t *testing.T) {
	t.Parallel()
	_, errs := rowsOf(t, "a,b\n"+strings.Repeat("1\n", 500))
	if len(errs) != maxErrors {
		t.Errorf("%d errors are told, want %d", len(errs), maxErrors)
	}
	if got := errs.Error(); !strings.HasSuffix(got, "(and 99 more)") || strings.Contains(got, "\n") {
		t.Errorf("Error() = %q", got)
	}
}

// TestGuard: every text comes back as it was, and none that is written begins
// with what a spreadsheet would run.
func TestGuard(t *testing.T) {
	t.Parallel()
	tests := []struct{ text, written string }{
		{"", ""},
		{"plain", "plain"},
		{"=1+1", "'=1+1"},
		{"+1", "'+1"},
		{"-1", "'-1"},
		{"@here", "'@here"},
		{"\t=1", "'\t=1"},
		{"'=1", "''=1"},
		{"''=1", "'''=1"},
		{"'tis", "'tis"},
		{"'", "'"},
		{"a=1", "a=1"},
	}
	for _, tt := range tests {
		if got := guard(tt.text); got != tt.written {
			t.Errorf("guard(%q) = %q, want %q", tt.text, got, tt.written)
		}
		if got := unguard(tt.written); got != tt.text {
			t.Errorf("unguard(%q) = %q, want %q", tt.written, got, tt.text)
		}
	}
}

func FuzzGuard(f *testing.F) {
	f.Add("=cmd|' /C calc'!A0")
	f.Add("''-")
	f.Fuzz(func(t *testing.T, s string) {
		g := guard(s)
		if back := unguard(g); back != s {
			t.Errorf("%q was written as %q and came back as %q", s, g, back)
		}
		if g != "" && strings.IndexByte("=+-@\t", g[0]) >= 0 {
			t.Errorf("%q is written as %q, which a spreadsheet runs", s, g)
		}
	})
}

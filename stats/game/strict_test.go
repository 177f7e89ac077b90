package game_test

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"sextant/stats/game"
)

// TestPointer has the examples of RFC 6901, section 5: the document there, one
// member a line, and the pointers to its members.
func TestPointer(t *testing.T) {
	t.Parallel()
	doc, problems := game.ReadJSON("rfc6901.json", []byte(`{
"foo": ["bar", "baz"],
"": 0,
"a/b": 1,
"c%d": 2,
"e^f": 3,
"g|h": 4,
"i\\j": 5,
"k\"l": 6,
" ": 7,
"m~n": 8
}`))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	tests := []struct {
		parts []any
		want  string
		line  int
	}{
		{nil, "", 1},
		{[]any{"foo"}, "/foo", 2},
		{[]any{"foo", 0}, "/foo/0", 2},
		{[]any{""}, "/", 3},
		{[]any{"a/b"}, "/a~1b", 4},
		{[]any{"c%d"}, "/c%d", 5},
		{[]any{"e^f"}, "/e^f", 6},
		{[]any{"g|h"}, "/g|h", 7},
		{[]any{`i\j`}, `/i\j`, 8},
		{[]any{`k"l`}, `/k"l`, 9},
		{[]any{" "}, "/ ", 10},
		{[]any{"m~n"}, "/m~0n", 11},
	}
	for _, tt := range tests {
		got := game.Pointer(tt.parts...)
		if got != tt.want {
			t.Errorf("Pointer(%q) = %q, want %q", tt.parts, got, tt.want)
		}
		if p := doc.Problem(got, "x"); p.Line != tt.line {
			t.Errorf("%q stands in line %d, want %d", got, p.Line, tt.line)
		}
	}
}

// The two texts of RFC 8259, section 13.
const (
	rfc8259Object = `{
        "Image": {
            "Width":  800,
            "Height": 600,
            "Title":  "View from 15th Floor",
            "Thumbnail": {
                "Url":    "http://www.example.com/image/481989943",
                "Height": 125,
                "Width":  100
            },
            "Animated" : false,
            "IDs": [116, 943, 234, 38793]
          }
      }`
	rfc8259Array = `[
        {
           "precision": "zip",
           "Latitude":  37.7668,
           "Longitude": -122.3959,
           "Address":   "",
           "City":      "SAN FRANCISCO",
           "State":     "CA",
           "Zip":       "94107",
           "Country":   "US"
        },
        {
           "precision": "zip",
           "Latitude":  37.371991,
           "Longitude": -122.026020,
           "Address":   "",
           "City":      "SUNNYVALE",
           "State":     "CA",
           "Zip":       "94085",
           "Country":   "US"
        }
      ]`
)

func TestReadJSON(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, text string
		says       string // "": no problem
		pointer    string
		line       int
	}{
		{"RFC8259Object", rfc8259Object, "", "", 0},
		{"RFC8259Array", rfc8259Array, "", "", 0},
		// RFC 8259, section 13: "three small JSON texts containing only values".
		{"RFC8259String", `"Hello world!"`, "", "", 0},
		{"RFC8259Number", `42`, "", "", 0},
		{"RFC8259True", `true`, "", "", 0},
		// RFC 8259, section 7: the G clef character is "\uD834\uDD1E".
		{"RFC8259Clef", `["\uD834\uDD1E", "𝄞"]`, "", "", 0},
		// RFC 8259, section 8.2: "\uDEAD" is a single unpaired surrogate.
		{"RFC8259Surrogate", "[1,\n\"\\uDEAD\"]", "half of a surrogate pair", "/1", 2},
		{"HalfClef", `["\uD834x"]`, "half of a surrogate pair", "/0", 1},
		{"BackslashU", `["\\uDEAD"]`, "", "", 0},
		// RFC 8259, section 4: names within an object should be unique.
		{"MemberTwice", "{\"a\": {\"b\": 1,\n \"b\": 2}}", "stands twice", "/a/b", 2},
		{"MemberTwiceEscaped", `{"a": 1, "\u0061": 2}`, "stands twice", "/a", 1},
		// RFC 8259, section 8.1: a byte order mark may be ignored.
		{"ByteOrderMark", "\ufeff{}", "", "", 0},
		{"NotUTF8", "{\"a\":\n\"\xff\"}", "not UTF-8", "", 2},
		{"Empty", " \n", "empty", "", 1},
		{"TrailingComma", "{\"a\": 1,\n}", "not JSON", "", 2},
		{"TwoValues", "{}\n{}", "not JSON", "", 2},
		{"NaN", `[NaN]`, "not JSON", "", 1},
		{"Infinity", `[-Infinity]`, "not JSON", "", 1},
		{"Overflow", `{"a": [1e309]}`, "too large a number", "/a/0", 1},
		{"Underflow", `[1e-999999999]`, "", "", 0},
		{"Control", `{"a": "\u0007"}`, "control character U+0007", "/a", 1},
		{"Lines", `{"a": "one\n\ttwo"}`, "", "", 0},
		{"Depth32", strings.Repeat("[", 32) + strings.Repeat("]", 32), "", "", 0},
		{"Depth33", strings.Repeat("[", 33) + strings.Repeat("]", 33), "more than 32 levels", strings.Repeat("/0", 32), 1},
		{"Deep", strings.Repeat("[", 100000), "not JSON", "", 1},
		{"Huge", `"` + strings.Repeat("x", 5<<20) + `"`, "is the limit", "", 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			doc, problems := game.ReadJSON("x.json", []byte(tt.text))
			if tt.says == "" {
				if len(problems) > 0 {
					t.Fatalf("ReadJSON: %v", problems)
				}
				var want any
				if err := json.Unmarshal([]byte(strings.TrimPrefix(tt.text, "\ufeff")), &want); err != nil {
					t.Fatal(err)
				}
				if !reflect.DeepEqual(doc.Value, want) {
					t.Errorf("Value = %v, want %v", doc.Value, want)
				}
				return
			}
			if len(problems) != 1 {
				t.Fatalf("ReadJSON: %v, want one problem", problems)
			}
			if p := problems[0]; !strings.Contains(p.Message, tt.says) || p.Pointer != tt.pointer || p.Line != tt.line {
				t.Errorf("ReadJSON: %+v, want %q at %q in line %d", p, tt.says, tt.pointer, tt.line)
			}
		})
	}
}

// TestLoadHuge: files made of mistakes are refused in a moment, with the first
// hundred.
func TestLoadHuge(t *testing.T) {
	t.Parallel()
	for name, text := range map[string]string{
		"Actions": `{"actions":[` + strings.Repeat(`{"id":"a","x":1},`, 7000) + `{}]}`,
		"Periods": `{"periods":[` + strings.Repeat(`{"id":"a","within":"b"},`, 5000) + `{}]}`,
		"Members": `{` + members(12000) + `"id":"a"}`,
	} {
		_, err := game.Load("x.json", []byte(text))
		problems, ok := err.(game.Problems)
		if !ok || len(problems) != 100 || problems[0].Line != 1 {
			t.Errorf("%s: %d problems, %v", name, len(problems), err)
		}
	}
}

func members(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, `"m%d":0,`, i)
	}
	return b.String()
}

// FuzzReadJSON: what is read strictly is JSON, and the values are those that
// encoding/json reads.
func FuzzReadJSON(f *testing.F) {
	for _, seed := range []string{`{"a":[1,"\ud834\udd1e",null]}`, `{"a":1,"a":2}`, `"\udead"`, `[1e400]`, "\xff", `{"":{"":[]}}`} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		doc, problems := game.ReadJSON("x.json", data)
		for _, p := range problems {
			if p.Message == "" || strings.Contains(p.String(), "\n") {
				t.Errorf("problem %q", p.String())
			}
		}
		if len(problems) > 0 {
			return
		}
		var want any
		if err := json.Unmarshal([]byte(strings.TrimPrefix(string(data), "\ufeff")), &want); err != nil {
			t.Fatalf("ReadJSON took what is not JSON: %v", err)
		}
		if !reflect.DeepEqual(doc.Value, want) {
			t.Errorf("Value = %v, want %v", doc.Value, want)
		}
	})
}

// FuzzLoad: no game file makes Load panic, and what it takes can be written,
// loaded again and scored.
func FuzzLoad(f *testing.F) {
	f.Add([]byte(small))
	for _, name := range games {
		f.Add(read(f, name))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		g, err := game.Load("x.json", data)
		if err != nil {
			if _, ok := err.(game.Problems); !ok || strings.Contains(err.Error(), "\n") {
				t.Errorf("error %T %q", err, err)
			}
			return
		}
		text, err := json.Marshal(g)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := game.Load("x.json", text); err != nil {
			t.Errorf("a game that was written does not load: %v", err)
		}
		red, _ := g.Score(game.Played{Robots: make([]game.Robot, g.Alliance.Robots)}, game.Played{})
		if red.FromFouls != 0 {
			t.Errorf("nobody did anything and red got %+v", red)
		}
	})
}

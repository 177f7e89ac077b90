package record_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/game"
	"sextant/stats/record"
)

// FuzzParseMatch: what is read is written in one way, and read again.
func FuzzParseMatch(f *testing.F) {
	for _, s := range []string{"Q1", "q 31", "W9999", "F", "", "Q0", "Q-1", "Q１", "Q1\n", "qualification 1", "Q00001"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		m, err := record.ParseMatch(s)
		if err != nil {
			if text := err.Error(); text == "" || strings.Contains(text, "\n") {
				t.Errorf("the error says %q", text)
			}
			return
		}
		again, err := record.ParseMatch(m.String())
		if err != nil || again != m || m.Number < 1 {
			t.Errorf("%q is %+v, which is written %q and read as %+v (%v)", s, m, m, again, err)
		}
	})
}

// FuzzTap: a tap that is read is written so that the same is read again.
func FuzzTap(f *testing.F) {
	for _, s := range []string{`[1,"deck",1]`, `[1,"deck",-1,0.5,-3]`, `[]`, `{}`, `[1,"deck"]`, `[1,"deck",1,2]`, `[1e99,"deck",1]`, `[1.5,"deck",1]`, `[1,"deck",1,null,null]`, `[null,"",0]`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) { roundTrip[record.Tap](t, text) })
}

// FuzzAnswer: likewise an answer to a question.
func FuzzAnswer(f *testing.F) {
	for _, s := range []string{`1`, `true`, `"x"`, `null`, `[]`, `{}`, `1e400`, `-0`, `"\u0000"`, ` 7 `} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) { roundTrip[game.Answer](t, text) })
}

func roundTrip[T any](t *testing.T, text []byte) {
	t.Helper()
	var first, second T
	if json.Unmarshal(text, &first) != nil {
		return
	}
	written, err := json.Marshal(first)
	if err != nil {
		t.Fatalf("%s was read as %+v and cannot be written: %v", text, first, err)
	}
	if err := json.Unmarshal(written, &second); err != nil {
		t.Fatalf("%s is written as %s, which cannot be read: %v", text, written, err)
	}
	if diff := cmp.Diff(first, second, cmp.AllowUnexported(first)); diff != "" {
		t.Errorf("%s is written as %s (-first +second)\n%s", text, written, diff)
	}
}

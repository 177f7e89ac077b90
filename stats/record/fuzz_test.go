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

// FuzzCheckAsked: whatever a body of the kinds that people are asked for holds,
// the check says so without a panic, and what it lets pass can be decoded.
func FuzzCheckAsked(f *testing.F) {
	g := load(f, "slackwater.json")
	for _, s := range []string{
		`{"text":"Does it lift?","team":"40117","asked_of":"scouts"}`,
		`{"scout":"s03","script":{"seed":7,"version":1,"seconds":40},"truth":{"deck":{"made":5}},"seen":{"deck":{"made":4},"mooring:lifted":{"made":1}}}`,
		`{"match":"Q5","question":"driving","scout":"s03","teams":["40117","40118"],"best":"40118"}`,
		`{"teams":[null,{}],"best":null}`, `{"answers_to":{}}`, `[]`, `{"truth":{":":{}}}`, `{"script":{"seed":1e0}}`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		for kind, into := range map[string]any{
			record.KindQuestion: new(record.QuestionBody), record.KindTraining: new(record.Training), record.KindJudgement: new(record.Judgement),
		} {
			if len(record.CheckBody(g, kind, text)) > 0 {
				continue
			}
			if err := json.Unmarshal(text, into); err != nil {
				t.Errorf("a %s passed that cannot be read: %v", kind, err)
			}
		}
	})
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

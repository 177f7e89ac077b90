package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/uuid"

	"sextant/api/auth"
	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/store"
)

// FuzzPush: whatever a device sends, the request is refused as a problem or
// each item gets one answer; what is let in keeps every rule.
func FuzzPush(f *testing.F) {
	raw, err := os.ReadFile("../testdata/games/slackwater.json")
	if err != nil {
		f.Fatal(err)
	}
	g, err := game.Load("game.json", raw)
	if err != nil {
		f.Fatal(err)
	}
	event := uuid.MustParse("0195f000-0000-7000-8000-000000000001")
	item := func(kind string, id uuid.UUID, body string) string {
		return `{"revision_id":"0195f000-0000-7000-8000-0000000000aa","record_id":"` + id.String() + `","parents":[],"kind":"` + kind + `","lamport":1,"made_at":"2031-03-06T15:00:00Z","body":` + body + `}`
	}
	q1 := record.MatchID{Stage: record.Qualification, Number: 1}
	list := uuid.MustParse("0195f000-0000-7000-8000-0000000000bb")
	good := []string{
		item("observation", record.ObservationID(event, q1, 1, "40101", "s03"), `{"match":"Q1","team":"40101","scout":"s03","counts":{"deck":{"made":3,"missed":1}},"taps":[[1,"deck",1]]}`),
		item("result", record.ResultID(event, q1, 1, record.Red), `{"match":"Q1","alliance":"red","score":12.5}`),
		item("note", list, `{"text":"x"}`),
		item("list", list, `{"name":"First"}`),
		item("entry", record.EntryID(list, "40101"), `{"list":"`+list.String()+`","team":"40101","key":"a0"}`),
	}
	all := `{"protocol":1,"device":"d","items":[` + strings.Join(good, ",") + `]}`
	f.Add([]byte(all))
	for _, one := range append(good, "null", "[]", "7", `{"revision_id":7}`, `{"revision_id":"x","body":{}}`, strings.Replace(good[0], "Q1", `Q\u0000`, 1), strings.Replace(good[0], `"made":3`, `"made":3e99`, 1)) {
		f.Add([]byte(`{"protocol":1,"device":"d","items":[` + one + `]}`))
	}
	f.Add([]byte(all[:len(all)/2]))
	f.Add([]byte(`{"protocol":99,"device":"d","items":[]}`))
	f.Add([]byte("\xff\xfe"))
	f.Fuzz(func(t *testing.T, body []byte) {
		req, err := readPush(body)
		if err != nil {
			var p *problem
			if !errors.As(err, &p) || p.Status >= 500 || p.Detail == "" {
				t.Errorf("refused with %v", err)
			}
			return
		}
		viewer := viewer{session: true, eventID: event, memberID: event, role: auth.Lead, nickname: "ada"}
		incoming, outcomes, err := newDoor(nil, viewer, g, req.Device).check(t.Context(), req.Items)
		if err != nil {
			t.Fatalf("the request fails instead of the item: %v", err)
		}
		refused := 0
		for _, o := range outcomes {
			if o.Outcome == string(store.Refused) {
				refused++
				if o.Problem == nil || o.Problem.Detail == "" || o.Problem.Status >= 500 {
					t.Errorf("refused without a reason: %+v", o.Problem)
				}
			}
		}
		if len(outcomes) != len(req.Items) || refused+len(incoming) != len(req.Items) {
			t.Errorf("%d items, %d answers, %d refused, %d let in", len(req.Items), len(outcomes), refused, len(incoming))
		}
		for _, it := range incoming {
			if it.RevisionID.Version() != 7 || it.Lamport < 1 || it.Author != "ada" || it.Role != record.RoleLead || it.MadeAt.IsZero() {
				t.Errorf("let in: %+v", it)
			}
			if len(record.CheckBody(g, it.Kind, it.Body)) > 0 {
				t.Errorf("let in with the body %s", it.Body)
			}
			// PostgreSQL's jsonb holds neither of the two.
			if !utf8.Valid(it.Body) || hasNUL(t, it.Body) {
				t.Errorf("let in: %q", it.Body)
			}
		}
	})
}

func hasNUL(t *testing.T, body []byte) bool {
	t.Helper()
	var v any
	if err := json.Unmarshal(body, &v); err != nil {
		t.Errorf("let in: %q", body)
		return false
	}
	var plain bytes.Buffer
	enc := json.NewEncoder(&plain)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		t.Error(err)
	}
	return bytes.Contains(plain.Bytes(), []byte(`\u0000`)) && !bytes.Contains(plain.Bytes(), []byte(`\\u0000`))
}

// FuzzCookie: a cookie is read whole or not at all.
func FuzzCookie(f *testing.F) {
	good := cookieValue{uuid.MustParse("0195f000-0000-7000-8000-000000000001"), "token"}
	for _, s := range []string{good.String(), "", ".", "x.y", good.event.String(), good.event.String() + ".", strings.ToUpper(good.String()), "{" + good.event.String() + "}.t", "urn:uuid:" + good.String()} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, ok := parseCookie(s)
		if !ok {
			return
		}
		again, ok := parseCookie(c.String())
		if !ok || again != c || c.token == "" {
			t.Errorf("%q is read as %+v, which is read as %+v", s, c, again)
		}
	})
}

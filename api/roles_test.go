package api

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"

	"sextant/api/auth"
)

// described is what the walk needs of the OpenAPI document.
type described struct {
	Paths map[string]map[string]struct {
		OperationID string                `json:"operationId"`
		Security    []map[string][]string `json:"security"`
	}
}

func document(t testing.TB) described {
	t.Helper()
	text, err := OpenAPI()
	if err != nil {
		t.Fatal(err)
	}
	var doc described
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	return doc
}

// plain are the operations that are not in the document.
var plain = map[string]string{
	"get-openapi": "/api/openapi.json", "get-docs": "/api/docs", "get-game-schema": "/api/schema/game.json",
	"get-health": "/healthz", "get-readiness": "/readyz", "get-app": "/e/x/matches",
}

// TestTableIsWhole holds that the table of api/auth has a row for each
// operation, and no row for anything else.
func TestTableIsWhole(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for id := range plain {
		seen[id] = true
	}
	for path, methods := range document(t).Paths {
		for method, op := range methods {
			seen[op.OperationID] = true
			if !auth.Known(op.OperationID) {
				t.Errorf("%s %s (%s) has no row", method, path, op.OperationID)
			}
			if open := len(op.Security) == 0; open != auth.Allowed(op.OperationID, auth.Nobody) {
				t.Errorf("%s: the document says open = %v, the table says otherwise", op.OperationID, open)
			}
		}
	}
	for _, id := range auth.Operations() {
		if !seen[id] {
			t.Errorf("row %s is no operation", id)
		}
	}
}

func TestAddRefusesARouteWithoutARow(t *testing.T) {
	t.Parallel()
	defer func() {
		if recover() == nil {
			t.Error("a route that the table does not know was registered")
		}
	}()
	s := &Server{}
	add(s, apiOf(), operation{"no-such-row", get, "/api/no-such-row", "", 0, 0, nil}, s.getSession)
}

// TestEveryOperationAsEveryRole calls each operation of the document as each
// role, as nobody, and as strangers to the event.
func TestEveryOperationAsEveryRole(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 2)
	var other eventView
	lead.send("POST", "/api/events", map[string]any{"name": "Elsewhere", "zone": "UTC", "game": json.RawMessage(gameFile(t))}).want(201, &other)
	elsewhere := f.client()
	elsewhere.http.Jar, elsewhere.event = lead.http.Jar, other.EventID
	stranger := elsewhere.join("lead", "stranger")
	stranger.event = lead.event

	callers := []struct {
		name     string
		role     auth.Role
		stranger bool
		browser  func() *client
	}{
		{"Nobody", auth.Nobody, false, func() *client { c := f.client(); c.event = lead.event; return c }},
		{"AccountLead", auth.Lead, false, func() *client { return lead }},
		{"LeadByCode", auth.Lead, false, func() *client { return lead.join("lead", "l"+uuid.NewString()[:8]) }},
		{"Coach", auth.Coach, false, func() *client { return lead.join("coach", "c"+uuid.NewString()[:8]) }},
		{"Scout", auth.Scout, false, func() *client { return lead.join("scout", "s"+uuid.NewString()[:8]) }},
		{"Out", auth.Out, false, func() *client { return lead.join("scout", "o"+uuid.NewString()[:8]).takenOut(lead) }},
		{"Stranger", auth.Lead, true, func() *client { return stranger }},
	}
	for _, caller := range callers {
		t.Run(caller.name, func(t *testing.T) {
			browser := caller.browser()
			for path, methods := range document(t).Paths {
				for method, op := range methods {
					c := browser
					if op.OperationID == "sign-out" {
						continue // TestSignIn; it would end the walk
					}
					status := knock(t, c, strings.ToUpper(method), path)
					role := caller.role
					inEvent := strings.Contains(path, "{event}")
					if caller.name == "AccountLead" && !inEvent {
						role = auth.Account
					}
					want := "in"
					switch {
					case caller.stranger && inEvent:
						want = "unknown"
					case auth.Allowed(op.OperationID, role):
					case role == auth.Nobody, role == auth.Out:
						want = "sign in"
					default:
						want = "no"
					}
					if got := reception(status, want == "unknown"); got != want {
						t.Errorf("%s %s (%s): status %d is %q, want %q", method, path, op.OperationID, status, got, want)
					}
				}
			}
			for id, path := range plain {
				if status := knock(t, browser, "GET", path); status != http.StatusOK {
					t.Errorf("%s: status %d", id, status)
				}
			}
		})
	}
}

// reception says how a caller was received. A call that was let in may still
// fail: the walk sends no bodies and made-up ids.
func reception(status int, unknownIsNotFound bool) string {
	switch {
	case status == http.StatusUnauthorized:
		return "sign in"
	case status == http.StatusForbidden:
		return "no"
	case status == http.StatusNotFound && unknownIsNotFound:
		return "unknown"
	case status >= http.StatusInternalServerError:
		return "failure"
	}
	return "in"
}

// knock calls an operation and does not wait for the end of a stream.
func knock(t *testing.T, c *client, method, path string) int {
	t.Helper()
	path = strings.NewReplacer("{event}", c.event.String(), "{match}", "Q1",
		"{code}", uuid.NewString(), "{member}", uuid.NewString(), "{record}", uuid.NewString()).Replace(path)
	req, err := http.NewRequestWithContext(t.Context(), method, c.f.base+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := c.http.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	return res.StatusCode
}

package auth

import "testing"

// A few rows by hand, so that a slip in the table's sets shows; that every
// operation of the API has a row, and that the server follows it, is tested in
// package api.
func TestAllowed(t *testing.T) {
	t.Parallel()
	tests := []struct {
		operation string
		may       map[Role]bool
	}{
		{"sign-in", map[Role]bool{Nobody: true, Account: true, Lead: true, Coach: true, Scout: true, Out: true}},
		{"create-event", map[Role]bool{Account: true}},
		{"get-estimates", map[Role]bool{Lead: true, Coach: true}},
		{"get-judgements", map[Role]bool{Lead: true, Coach: true}},
		{"list-forecasts", map[Role]bool{Lead: true, Coach: true}},
		{"list-members", map[Role]bool{Lead: true, Coach: true}},
		{"export-data", map[Role]bool{Lead: true}},
		{"put-matches", map[Role]bool{Lead: true}},
		{"push", map[Role]bool{Lead: true, Coach: true, Scout: true, Out: true}},
		{"pull", map[Role]bool{Lead: true, Coach: true, Scout: true}},
		{"no-such-operation", nil},
	}
	for _, tt := range tests {
		for _, r := range Roles {
			if got := Allowed(tt.operation, r); got != tt.may[r] {
				t.Errorf("Allowed(%s, %s) = %v", tt.operation, r, got)
			}
		}
	}
}

func TestMayWrite(t *testing.T) {
	t.Parallel()
	tests := []struct {
		kind string
		may  map[Role]bool
	}{
		{"observation", map[Role]bool{Lead: true, Scout: true}},
		{"result", map[Role]bool{Lead: true}},
		{"mark", map[Role]bool{Lead: true}},
		{"list", map[Role]bool{Lead: true, Coach: true}},
		{"entry", map[Role]bool{Lead: true, Coach: true}},
		{"note", map[Role]bool{Lead: true, Coach: true}},
		{"question", map[Role]bool{Lead: true}},
		{"sketch", map[Role]bool{Lead: true, Coach: true}},
		{"agreement", map[Role]bool{Lead: true, Coach: true}},
		{"debrief", map[Role]bool{Lead: true, Coach: true}},
		{"pin", map[Role]bool{Lead: true, Coach: true}},
		{"rehearsal", map[Role]bool{Lead: true, Coach: true}},
		{"judgement", map[Role]bool{Lead: true, Scout: true}},
		{"training", map[Role]bool{Lead: true, Scout: true}},
	}
	for _, tt := range tests {
		for _, r := range Roles {
			if got := MayWrite(tt.kind, r); got != tt.may[r] {
				t.Errorf("MayWrite(%s, %s) = %v", tt.kind, r, got)
			}
		}
	}
}

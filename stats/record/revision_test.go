package record_test

import (
	"encoding/json"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"sextant/stats/record"
)

func id(n byte) uuid.UUID {
	var u uuid.UUID
	u[15] = n
	return u
}

func TestResolve(t *testing.T) {
	t.Parallel()
	rev := func(n byte, kind string, role record.Role, lamport int64, body string, parents ...byte) record.Revision {
		r := record.Revision{RevisionID: id(n), Kind: kind, Role: role, Lamport: lamport, Body: json.RawMessage(body)}
		for _, p := range parents {
			r.Parents = append(r.Parents, id(p))
		}
		return r
	}
	const obs, entry = record.KindObservation, record.KindEntry
	const scout, coach, lead = record.RoleScout, record.RoleCoach, record.RoleLead
	tests := []struct {
		name string
		revs []record.Revision
		want record.Resolved
	}{
		{"Nothing", nil, record.Resolved{}},
		{"ChildBeatsLead", []record.Revision{
			rev(1, obs, lead, 9, `{"a":1}`), rev(2, obs, scout, 1, `{"a":2}`, 1),
		}, record.Resolved{Head: id(2), Heads: []uuid.UUID{id(2)}, Body: json.RawMessage(`{"a":2}`)}},
		{"LeadBeatsCoachBeatsScout", []record.Revision{
			rev(1, obs, scout, 9, `{}`), rev(2, obs, coach, 5, `{}`), rev(3, obs, lead, 1, `{"x":3}`),
		}, record.Resolved{Head: id(3), Heads: []uuid.UUID{id(3), id(2), id(1)}, Conflict: true, Body: json.RawMessage(`{"x":3}`)}},
		{"LamportThenID", []record.Revision{
			rev(1, obs, scout, 2, `{}`), rev(3, obs, scout, 1, `{}`), rev(2, obs, scout, 2, `{"x":2}`),
		}, record.Resolved{Head: id(2), Heads: []uuid.UUID{id(2), id(1), id(3)}, Conflict: true, Body: json.RawMessage(`{"x":2}`)}},
		{"MergesMembers", []record.Revision{
			rev(1, entry, scout, 1, `{"key":"a0","team":"40117"}`), rev(2, entry, lead, 2, `{"tier":1}`, 1), rev(3, entry, scout, 2, `{"key":"a1"}`, 1),
		}, record.Resolved{Head: id(2), Heads: []uuid.UUID{id(2), id(3)}, Body: json.RawMessage(`{"key":"a1","team":"40117","tier":1}`)}},
		{"DisputesOneMember", []record.Revision{
			rev(1, entry, scout, 1, `{"key":"a0"}`), rev(2, entry, lead, 2, `{"tier":1,"note":"x"}`, 1), rev(3, entry, scout, 2, `{"tier":2,"note":"x"}`, 1),
		}, record.Resolved{Head: id(2), Heads: []uuid.UUID{id(2), id(3)}, Conflict: true, Disputed: []string{"tier"}, Body: json.RawMessage(`{"key":"a0","note":"x","tier":1}`)}},
		{"NullTakesAway", []record.Revision{
			rev(1, entry, scout, 1, `{"key":"a0","reason":"slow"}`), rev(2, entry, scout, 2, `{"reason":null}`, 1),
		}, record.Resolved{Head: id(2), Heads: []uuid.UUID{id(2)}, Body: json.RawMessage(`{"key":"a0"}`)}},
		{"UnknownParent", []record.Revision{
			rev(3, obs, scout, 3, `{"x":3}`, 2),
		}, record.Resolved{Head: id(3), Heads: []uuid.UUID{id(3)}, Body: json.RawMessage(`{"x":3}`)}},
		{"CycleIsConcurrent", []record.Revision{
			rev(1, obs, scout, 1, `{}`, 2), rev(2, obs, scout, 1, `{"x":2}`, 1), rev(3, obs, lead, 0, `{}`),
			rev(1, obs, scout, 1, `{}`, 2),
		}, record.Resolved{Head: id(3), Heads: []uuid.UUID{id(3), id(2), id(1)}, Conflict: true, Body: json.RawMessage(`{}`)}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff(tt.want, record.Resolve(tt.revs)); diff != "" {
				t.Errorf("Resolve (-want +got):\n%s", diff)
			}
		})
	}
}

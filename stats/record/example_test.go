package record_test

import (
	"encoding/json"
	"fmt"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// Two people changed the same entry of a pick list without having seen each
// other's change: the lead gave it a tier, the coach another place. Nothing is
// lost, and nothing is in conflict.
func ExampleResolve() {
	first, tier, place := uuid.UUID{15: 1}, uuid.UUID{15: 2}, uuid.UUID{15: 3}
	got := record.Resolve([]record.Revision{
		{RevisionID: first, Kind: record.KindEntry, Role: record.RoleLead, Lamport: 1, Body: json.RawMessage(`{"team":"40117","key":"a0"}`)},
		{RevisionID: place, Kind: record.KindEntry, Role: record.RoleCoach, Lamport: 2, Body: json.RawMessage(`{"key":"a1"}`), Parents: []uuid.UUID{first}},
		{RevisionID: tier, Kind: record.KindEntry, Role: record.RoleLead, Lamport: 2, Body: json.RawMessage(`{"tier":1}`), Parents: []uuid.UUID{first}},
	})
	fmt.Println(string(got.Body), got.Conflict)
	// Output: {"key":"a1","team":"40117","tier":1} false
}

package record_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/google/uuid"

	"sextant/stats/record"
)

func readJSON[T any](t *testing.T, path string) T {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var out T
	if err := json.Unmarshal(data, &out); err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	return out
}

// same compares answers; bodies by value.
func same(t *testing.T, want, got record.Resolved) string {
	t.Helper()
	value := func(raw json.RawMessage) (v any) {
		if len(raw) > 0 {
			if err := json.Unmarshal(raw, &v); err != nil {
				t.Fatalf("body %s: %v", raw, err)
			}
		}
		return v
	}
	diff := cmp.Diff(value(want.Body), value(got.Body))
	want.Body, got.Body = nil, nil
	return diff + cmp.Diff(want, got, cmpopts.EquateEmpty())
}

func TestRevisionVectors(t *testing.T) {
	t.Parallel()
	type vector struct {
		Name      string
		Revisions []record.Revision
		Want      record.Resolved
	}
	for _, v := range readJSON[[]vector](t, "../../testdata/revisions/revisions.json") {
		t.Run(v.Name, func(t *testing.T) {
			t.Parallel()
			rng := rand.New(rand.NewPCG(3, 4))
			for range 10 {
				if diff := same(t, v.Want, record.Resolve(v.Revisions)); diff != "" {
					t.Fatalf("Resolve (-want +got):\n%s", diff)
				}
				rng.Shuffle(len(v.Revisions), func(i, j int) {
					v.Revisions[i], v.Revisions[j] = v.Revisions[j], v.Revisions[i]
				})
			}
		})
	}
}

// history is a random set of revisions of one record: each was made by a device
// that had seen some of those before, or, rarely, names a parent that nobody has.
func history(rng *rand.Rand, kind string) []record.Revision {
	roles := []record.Role{record.RoleScout, record.RoleCoach, record.RoleLead}
	var revs []record.Revision
	for i := range 1 + rng.IntN(9) {
		r := record.Revision{
			RevisionID: id(byte(rng.IntN(200))), Kind: kind, Role: roles[rng.IntN(3)], Lamport: int64(rng.IntN(4)), DeviceID: fmt.Sprint(i),
		}
		if slices.ContainsFunc(revs, func(o record.Revision) bool { return o.RevisionID == r.RevisionID }) {
			continue
		}
		for _, o := range revs {
			if rng.IntN(3) == 0 {
				r.Parents = append(r.Parents, o.RevisionID)
			}
		}
		if rng.IntN(10) == 0 {
			r.Parents = append(r.Parents, id(250))
		}
		body := map[string]any{}
		for _, name := range []string{"key", "tier", "note"} {
			switch rng.IntN(5) {
			case 0:
				body[name] = nil
			case 1, 2:
				body[name] = rng.IntN(2)
			}
		}
		r.Body, _ = json.Marshal(body)
		revs = append(revs, r)
	}
	return revs
}

// plain is the rule in the most obvious words, for sets without cycles.
func plain(revs []record.Revision) record.Resolved {
	byID := map[uuid.UUID]record.Revision{}
	for _, r := range revs {
		byID[r.RevisionID] = r
	}
	var isAncestor func(a, b uuid.UUID) bool
	isAncestor = func(a, b uuid.UUID) bool {
		for _, p := range byID[b].Parents {
			if _, here := byID[p]; here && (p == a || isAncestor(a, p)) {
				return true
			}
		}
		return false
	}
	rank := func(r record.Revision) string { // a text that sorts like the rule
		role := map[record.Role]int{record.RoleLead: 3, record.RoleCoach: 2, record.RoleScout: 1}[r.Role]
		return fmt.Sprintf("%d %08d %s", role, r.Lamport, r.RevisionID)
	}
	// left are those of a list that are no ancestor of another in it, best first.
	left := func(list []record.Revision) []record.Revision {
		var out []record.Revision
		for _, r := range list {
			if !slices.ContainsFunc(list, func(o record.Revision) bool { return isAncestor(r.RevisionID, o.RevisionID) }) {
				out = append(out, r)
			}
		}
		slices.SortFunc(out, func(a, b record.Revision) int { return strings.Compare(rank(b), rank(a)) })
		return out
	}
	var all []record.Revision
	for _, r := range byID {
		all = append(all, r)
	}
	heads := left(all)
	want := record.Resolved{Head: heads[0].RevisionID}
	for _, r := range heads {
		want.Heads = append(want.Heads, r.RevisionID)
	}
	if !record.Merged(heads[0].Kind) {
		want.Conflict, want.Body = len(heads) > 1, heads[0].Body
		return want
	}
	body := map[string]string{}
	for _, name := range []string{"key", "note", "tier"} {
		var setters []record.Revision
		value := map[uuid.UUID]string{}
		for _, r := range all {
			var members map[string]json.RawMessage
			_ = json.Unmarshal(r.Body, &members)
			if v, ok := members[name]; ok {
				setters = append(setters, r)
				value[r.RevisionID] = string(v)
			}
		}
		settled := left(setters)
		if len(settled) == 0 {
			continue
		}
		best := value[settled[0].RevisionID]
		if best != "null" {
			body[name] = best
		}
		if slices.ContainsFunc(settled, func(r record.Revision) bool { return value[r.RevisionID] != best }) {
			want.Disputed = append(want.Disputed, name)
		}
	}
	want.Conflict = len(want.Disputed) > 0
	var members []string
	for name, v := range body {
		members = append(members, fmt.Sprintf("%q:%s", name, v))
	}
	want.Body = json.RawMessage("{" + strings.Join(members, ",") + "}")
	return want
}

// TestResolveProperty: on random histories, whole and merged, Resolve gives what
// the obvious model gives, in any order and with any repetition, and the same
// bytes each time.
func TestResolveProperty(t *testing.T) {
	t.Parallel()
	for _, kind := range []string{record.KindObservation, record.KindEntry} {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			rng := rand.New(rand.NewPCG(5, 6))
			conflicts := 0
			for range 400 {
				revs := history(rng, kind)
				want := plain(revs)
				first := record.Resolve(revs)
				if diff := same(t, want, first); diff != "" {
					t.Fatalf("Resolve (-obvious +got):\n%s\nof %+v", diff, revs)
				}
				if first.Conflict {
					conflicts++
				}
				for range 3 {
					again := slices.Clone(revs)
					again = append(again, again[rng.IntN(len(again))])
					rng.Shuffle(len(again), func(i, j int) { again[i], again[j] = again[j], again[i] })
					if got := record.Resolve(again); !reflect.DeepEqual(first, got) {
						t.Fatalf("another order (-first +again):\n%s\nof %+v", cmp.Diff(first, got), revs)
					}
				}
			}
			if conflicts < 30 || conflicts > 370 {
				t.Errorf("%d of 400 histories in conflict: they prove little", conflicts)
			}
		})
	}
}

// TestResolveLarge: a long history takes no long time.
func TestResolveLarge(t *testing.T) {
	t.Parallel()
	var revs []record.Revision
	for i := range 1000 {
		r := record.Revision{RevisionID: uuid.NewSHA1(uuid.Nil, []byte(fmt.Sprint(i))), Kind: record.KindEntry, Lamport: int64(i), Role: record.RoleLead, Body: json.RawMessage(fmt.Sprintf(`{"tier":%d}`, i))}
		if i > 0 {
			r.Parents = []uuid.UUID{revs[i-1].RevisionID}
		}
		revs = append(revs, r)
	}
	got := record.Resolve(revs)
	if got.Head != revs[999].RevisionID || got.Conflict || string(got.Body) != `{"tier":999}` {
		t.Errorf("Resolve = %+v", got)
	}
}

// TestResolveSameIDTwice: two different contents under one id, which only a
// faulty device makes, give the same answer in either order.
func TestResolveSameIDTwice(t *testing.T) {
	t.Parallel()
	a := record.Revision{RevisionID: id(1), Kind: record.KindMark, Body: json.RawMessage(`{"kind":"repaired"}`)}
	b := a
	b.Body = json.RawMessage(`{"kind":"changed"}`)
	if diff := cmp.Diff(record.Resolve([]record.Revision{a, b}), record.Resolve([]record.Revision{b, a})); diff != "" {
		t.Error(diff)
	}
}

// TestIDs has the example of RFC 9562, appendix A.4 (UUIDv5 of the DNS name
// space and "www.example.com"), and ids that Python's uuid.uuid5 computed.
func TestIDs(t *testing.T) {
	t.Parallel()
	dns := uuid.MustParse("6ba7b810-9dad-11d1-80b4-00c04fd430c8")
	if got, want := record.EntryID(dns, "www.example.com").String(), "2ed6657d-e927-568b-95e1-2665a8aea6a2"; got != want {
		t.Errorf("UUIDv5 of www.example.com = %s, want %s", got, want)
	}
	type row struct {
		Kind, Namespace, Scout, Team, Alliance, Question, Captain, ID string
		Match                                                         record.MatchID
		Play, Second                                                  int
	}
	for _, r := range readJSON[[]row](t, "../../testdata/revisions/ids.json") {
		space := uuid.MustParse(r.Namespace)
		var got uuid.UUID
		switch r.Kind {
		case record.KindObservation:
			got = record.ObservationID(space, r.Match, r.Play, record.TeamID(r.Team), r.Scout)
		case record.KindResult:
			got = record.ResultID(space, r.Match, r.Play, record.Colour(r.Alliance))
		case record.KindJudgement:
			got = record.JudgementID(space, r.Match, r.Play, r.Question, r.Scout)
		case record.KindDebrief:
			got = record.DebriefID(space, r.Match, r.Play, record.TeamID(r.Team))
		case record.KindSketch:
			got = record.SketchID(space, r.Match, r.Second, record.TeamID(r.Team))
		case record.KindPit:
			got = record.PitID(space, record.TeamID(r.Team), r.Scout)
		case record.KindRota:
			got = record.RotaID(space)
		case record.KindSeat:
			got = record.SeatID(space, r.Match, r.Scout)
		case record.KindPin:
			got = record.PinID(space, record.TeamID(r.Captain), record.TeamID(r.Team))
		case record.KindEntry:
			got = record.EntryID(space, record.TeamID(r.Team))
		default:
			t.Fatalf("unknown kind %q", r.Kind)
		}
		if got.String() != r.ID {
			t.Errorf("%+v: id %s", r, got)
		}
	}
	body := []byte(`{"match":"Q1"}`)
	if a, b := record.ImportID(dns, body), record.ImportID(dns, []byte(`{"match":"Q2"}`)); a == b || a != record.ImportID(dns, body) || a.Version() != 5 {
		t.Errorf("ImportID: %s and %s", a, b)
	}
}

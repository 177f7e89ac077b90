package record

import (
	"bytes"
	"cmp"
	"encoding/json"
	"reflect"
	"slices"
	"time"

	"github.com/google/uuid"
)

// Role is what a person may do at an event, and whose word counts when two
// people said different things at the same time.
type Role string

// The roles, in falling order of weight.
const (
	RoleLead  Role = "lead"
	RoleCoach Role = "coach"
	RoleScout Role = "scout"
)

// weight ranks roles; a role that is not known weighs least.
func (r Role) weight() int {
	switch r {
	case RoleLead:
		return 3
	case RoleCoach:
		return 2
	case RoleScout:
		return 1
	}
	return 0
}

// The kinds of record. A kind that is not named here is treated as whole.
const (
	KindObservation = "observation" // body: Observation
	KindResult      = "result"      // body: ResultBody
	KindMark        = "mark"        // body: Mark
	KindList        = "list"        // body: ListBody, merged
	KindEntry       = "entry"       // body: EntryBody, merged
	KindNote        = "note"        // body: NoteBody, merged
	KindSketch      = "sketch"      // body: SketchBody, merged
	KindAgreement   = "agreement"   // body: AgreementBody, merged
	KindDebrief     = "debrief"     // body: DebriefBody, merged
	KindSelection   = "selection"   // body: SelectionBody
	KindQuestion    = "question"    // body: QuestionBody
	KindTraining    = "training"    // body: Training
	KindJudgement   = "judgement"   // body: Judgement
	KindRota        = "rota"        // body: RotaBody
	KindSeat        = "seat"        // body: SeatBody
	KindPit         = "pit"         // body: PitBody
	KindPlayoff     = "playoff"     // body: PlayoffBody
	KindPin         = "pin"         // body: PinBody
	KindRehearsal   = "rehearsal"   // body: RehearsalBody
)

// Merged reports whether the bodies of a kind are patches that are merged
// member by member. All other kinds are whole: the body that counts is one
// revision's.
func Merged(kind string) bool {
	switch kind {
	case KindList, KindEntry, KindNote, KindSketch, KindAgreement, KindDebrief:
		return true
	}
	return false
}

// Revision is one version of one record, as a device made it. It never changes.
type Revision struct {
	RevisionID uuid.UUID       `json:"revision_id"`              // UUIDv7; UUIDv5 for a row of a file
	RecordID   uuid.UUID       `json:"record_id"`                // see ObservationID, ResultID, EntryID
	Parents    []uuid.UUID     `json:"parents" nullable:"false"` // the heads that its author saw; empty: the first
	Kind       string          `json:"kind"`
	Lamport    int64           `json:"lamport"` // one more than the highest that the device had seen
	Author     string          `json:"author"`  // nickname of the person
	Role       Role            `json:"role"`    // of the author when it was made
	DeviceID   string          `json:"device_id"`
	MadeAt     time.Time       `json:"made_at"` // by the device's clock: shown, never trusted
	Body       json.RawMessage `json:"body"`    // by kind; of a merged kind a patch
}

// Resolved is what a set of revisions of one record says.
type Resolved struct {
	Head     uuid.UUID   `json:"head"`                   // the revision that counts; zero: the set was empty
	Heads    []uuid.UUID `json:"heads" nullable:"false"` // all that nobody has built upon, the one that counts first
	Conflict bool        `json:"conflict"`               // people said different things without having seen each other's
	// Disputed are the members of a merged kind that are in conflict, sorted.
	Disputed []string `json:"disputed,omitempty"`
	// Body is the head's body, or the merged members in sorted order.
	Body json.RawMessage `json:"body"`
}

// Resolve tells which revision of a record counts. It is a pure function of the
// set: order of arrival, repetition and any device's clock have no say.
//
// An ancestor loses to its descendants. Among those that are left (the heads)
// a lead's word beats a coach's, that a scout's; then the higher Lamport number
// counts, then the higher id. A whole kind (see Merged) is in conflict when it
// has two heads.
//
// Of a merged kind each member of the bodies is settled on its own, among the
// revisions that set it: those are dropped that are ancestors of another that
// sets it, and the same ranking picks one. A member that is set to null is
// taken away. There is a conflict only where revisions that are left set the
// same member to different values.
//
// Parents that are not in the set are ignored until they arrive. Revisions that
// name each other as ancestors, which no honest device makes, count as
// concurrent.
func Resolve(revs []Revision) Resolved {
	revs = distinct(revs)
	if len(revs) == 0 {
		return Resolved{}
	}
	slices.SortFunc(revs, rank)

	// members[name] are the revisions that set a member, best first; "" stands
	// for the record itself, which every revision sets.
	members := map[string][]int{"": make([]int, len(revs))}
	bodies := make([]map[string]json.RawMessage, len(revs))
	for i := range revs {
		members[""][i] = i
		if Merged(revs[i].Kind) && json.Unmarshal(revs[i].Body, &bodies[i]) == nil {
			for name := range bodies[i] {
				// A member with an empty name would stand for the record; no kind has one.
				if name != "" {
					members[name] = append(members[name], i)
				}
			}
		}
	}
	left := surviving(revs, members)

	var out Resolved
	for _, i := range left[""] {
		out.Heads = append(out.Heads, revs[i].RevisionID)
	}
	head := revs[left[""][0]]
	out.Head = head.RevisionID
	if !Merged(head.Kind) {
		out.Conflict = len(out.Heads) > 1
		out.Body = head.Body
		return out
	}
	body := map[string]json.RawMessage{}
	for name, setters := range left {
		if name == "" {
			continue
		}
		best := bodies[setters[0]][name]
		if !isNull(best) {
			body[name] = best
		}
		for _, i := range setters[1:] {
			if !sameJSON(best, bodies[i][name]) {
				out.Disputed = append(out.Disputed, name)
				break
			}
		}
	}
	slices.Sort(out.Disputed)
	out.Conflict = len(out.Disputed) > 0
	out.Body = encode(body)
	return out
}

// distinct drops repeated revision ids. Two different revisions with one id,
// which only a faulty device can make, are settled by their content.
func distinct(revs []Revision) []Revision {
	seen := make(map[uuid.UUID]int, len(revs))
	out := make([]Revision, 0, len(revs))
	for _, r := range revs {
		at, ok := seen[r.RevisionID]
		if !ok {
			seen[r.RevisionID] = len(out)
			out = append(out, r)
			continue
		}
		if bytes.Compare(encode(r), encode(out[at])) > 0 {
			out[at] = r
		}
	}
	return out
}

// rank orders revisions by whose word counts, best first.
func rank(a, b Revision) int {
	return cmp.Or(
		cmp.Compare(b.Role.weight(), a.Role.weight()),
		cmp.Compare(b.Lamport, a.Lamport),
		bytes.Compare(b.RevisionID[:], a.RevisionID[:]),
	)
}

// surviving drops, from the setters of each member, the ancestors of another
// setter. Order is kept.
func surviving(revs []Revision, members map[string][]int) map[string][]int {
	index := make(map[uuid.UUID]int, len(revs))
	for i, r := range revs {
		index[r.RevisionID] = i
	}
	parents := make([][]int, len(revs))
	children := make([][]int, len(revs))
	for i, r := range revs {
		for _, p := range r.Parents {
			if j, ok := index[p]; ok && j != i {
				parents[i] = append(parents[i], j)
				children[j] = append(children[j], i)
			}
		}
	}
	sets := make(map[string][]bool, len(members))
	lost := make(map[string][]bool, len(members))
	for name, setters := range members {
		sets[name], lost[name] = make([]bool, len(revs)), make([]bool, len(revs))
		for _, i := range setters {
			sets[name][i] = true
		}
	}
	for y := range revs {
		if len(parents[y]) == 0 {
			continue
		}
		above, below := reached(y, parents), reached(y, children)
		for name, setters := range members {
			if !sets[name][y] {
				continue
			}
			for _, x := range setters {
				if x != y && above[x] && !below[x] {
					lost[name][x] = true
				}
			}
		}
	}
	out := make(map[string][]int, len(members))
	for name, setters := range members {
		for _, i := range setters {
			if !lost[name][i] {
				out[name] = append(out[name], i)
			}
		}
	}
	return out
}

// reached marks what can be reached from one revision along the edges.
func reached(from int, edges [][]int) []bool {
	seen := make([]bool, len(edges))
	todo := []int{from}
	for len(todo) > 0 {
		i := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		for _, j := range edges[i] {
			if !seen[j] {
				seen[j] = true
				todo = append(todo, j)
			}
		}
	}
	return seen
}

func isNull(raw json.RawMessage) bool { return string(bytes.TrimSpace(raw)) == "null" }

// sameJSON compares values, not their spelling: 1 and 1.0 are the same.
func sameJSON(a, b json.RawMessage) bool {
	var va, vb any
	if json.Unmarshal(a, &va) != nil || json.Unmarshal(b, &vb) != nil {
		return bytes.Equal(a, b)
	}
	return reflect.DeepEqual(va, vb)
}

// encode writes JSON with members in sorted order and without the escapes that
// only matter inside HTML.
func encode(v any) json.RawMessage {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil // a body that is not JSON; CheckBody refuses those at the door
	}
	return bytes.TrimSuffix(buf.Bytes(), []byte("\n"))
}

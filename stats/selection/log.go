package selection

import (
	"bytes"
	"cmp"
	"slices"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// Entry is a move as it was written down: a record of kind
// record.KindSelection.
type Entry struct {
	ID uuid.UUID `json:"id"` // of the record
	record.SelectionBody
}

// Move is what the entry says.
func (e *Entry) Move() Move {
	return Move{Captain: e.Captain, Invites: e.Invites, Answer: e.Answer, Backup: e.Backup, Round: e.Round}
}

// Refused is an entry of a log that does not count.
type Refused struct {
	Entry
	Rule string `json:"rule"` // in words
	// Repeats: the same move stands earlier in the log, as when two devices
	// write one selection down. There is nothing to decide.
	Repeats bool `json:"repeats"`
}

// Ordered is a log in the order in which it is replayed: by step, then by the
// record's id; what was taken back is left out. It is a function of the set.
func Ordered(log []Entry) []Entry {
	var out []Entry
	for _, e := range log {
		if !e.Removed {
			out = append(out, e)
		}
	}
	slices.SortFunc(out, func(a, b Entry) int {
		return cmp.Or(cmp.Compare(a.Step, b.Step), bytes.Compare(a.ID[:], b.ID[:]))
	})
	return slices.CompactFunc(out, func(a, b Entry) bool { return a.ID == b.ID })
}

// Replay makes the moves of a log on start, which stays as it is. Entries may
// come from several devices that did not see each other's, in any order and
// any number of times: the board depends on their set alone. What the rules do
// not allow at its place in the order is refused, never lost.
//
// An entry that is refused at its place is tried again after each move that
// counts, since a device that missed a move of another numbers its own lower.
// A captain may choose in several rounds, so entries should say theirs.
func Replay(start *Board, log []Entry) (*Board, []Refused) {
	b := start.Clone()
	var waiting []Refused
	done := map[Move]bool{}
	for _, e := range Ordered(log) {
		if !try(b, e, done, &waiting) {
			continue
		}
		for again := true; again; {
			again = false
			held := waiting
			waiting = nil
			for _, r := range held {
				switch {
				case r.Repeats || again:
					waiting = append(waiting, r)
				default:
					again = try(b, r.Entry, done, &waiting)
				}
			}
		}
	}
	return b, waiting
}

// try makes a move, or notes why it does not count.
func try(b *Board, e Entry, done map[Move]bool, refused *[]Refused) bool {
	m := e.Move()
	if done[m] {
		*refused = append(*refused, Refused{Entry: e, Rule: "the same move stands earlier", Repeats: true})
		return false
	}
	if err := b.Move(m); err != nil {
		*refused = append(*refused, Refused{Entry: e, Rule: err.Error()})
		return false
	}
	done[m] = true
	return true
}

// NextStep is the step of a move that follows all of a log.
func NextStep(log []Entry) int {
	last := 0
	for _, e := range log {
		last = max(last, e.Step)
	}
	return last + 1
}

// Undo tells which entries of a log have to be taken back so that only the
// first keep of Ordered are left.
func Undo(log []Entry, keep int) []uuid.UUID {
	var out []uuid.UUID
	for k, e := range Ordered(log) {
		if k >= keep {
			out = append(out, e.ID)
		}
	}
	return out
}

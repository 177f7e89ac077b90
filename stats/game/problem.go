package game

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Problem is one thing that is wrong with a JSON document.
type Problem struct {
	File    string `json:"file,omitempty"`
	Line    int    `json:"line,omitempty"`   // from 1; 0: not known
	Column  int    `json:"column,omitempty"` // from 1, in characters
	Pointer string `json:"pointer"`          // JSON Pointer (RFC 6901); "" is the whole document
	Message string `json:"message"`          // what is wrong and what to do
}

// String writes "game.json:12:5: /actions/0/kind: …".
func (p Problem) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d:%d", p.Line, p.Column)
	}
	for _, s := range []string{p.Pointer, p.Message} {
		if s == "" {
			continue
		}
		if b.Len() > 0 {
			b.WriteString(": ")
		}
		b.WriteString(s)
	}
	return b.String()
}

// Problems are all that is wrong with a document, in the order of their
// pointers. It is the error type of Load and Override.
type Problems []Problem

// Error gives the first problem and says how many more there are, on one line.
func (ps Problems) Error() string {
	switch len(ps) {
	case 0:
		return "no problems"
	case 1:
		return ps[0].String()
	}
	return fmt.Sprintf("%s (and %d more)", ps[0], len(ps)-1)
}

// problemf is a problem without a place.
func problemf(pointer, format string, args ...any) Problem {
	return Problem{Pointer: pointer, Message: fmt.Sprintf(format, args...)}
}

// maxProblems caps how many problems of one document are told.
const maxProblems = 100

// err is nil when there are no problems.
func (ps Problems) err() error {
	if len(ps) == 0 {
		return nil
	}
	return ps
}

// sorted puts the problems in order, drops repetitions and caps their number.
func (ps Problems) sorted() Problems {
	slices.SortFunc(ps, func(a, b Problem) int {
		return cmp.Or(comparePointers(a.Pointer, b.Pointer), cmp.Compare(a.Message, b.Message))
	})
	ps = slices.Compact(ps)
	return ps[:min(len(ps), maxProblems)]
}

// comparePointers orders pointers by their parts, numbers as numbers.
func comparePointers(a, b string) int {
	as, bs := strings.Split(a, "/"), strings.Split(b, "/")
	return slices.CompareFunc(as, bs, func(x, y string) int {
		nx, errX := strconv.Atoi(x)
		ny, errY := strconv.Atoi(y)
		if errX == nil && errY == nil {
			return cmp.Compare(nx, ny)
		}
		return cmp.Compare(x, y)
	})
}

// Pointer builds a JSON Pointer (RFC 6901) from its parts: texts are member
// names, ints are places in an array.
func Pointer(parts ...any) string {
	var b strings.Builder
	for _, part := range parts {
		b.WriteByte('/')
		switch v := part.(type) {
		case int:
			b.WriteString(strconv.Itoa(v))
		default:
			b.WriteString(escape(fmt.Sprint(v)))
		}
	}
	return b.String()
}

// escape writes ~ as ~0 and / as ~1 (RFC 6901, section 3).
func escape(s string) string {
	if !strings.ContainsAny(s, "~/") {
		return s
	}
	return strings.ReplaceAll(strings.ReplaceAll(s, "~", "~0"), "/", "~1")
}

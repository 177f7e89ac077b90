package record

import (
	"cmp"
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// Stage is the part of the weekend that a match belongs to.
type Stage string

// The stages, in playing order.
const (
	Practice      Stage = "W"
	Qualification Stage = "Q"
	PlayoffStage  Stage = "P"
	Final         Stage = "F"
)

const stageOrder = "WQPF"

// MatchID names a match: a stage and a number from 1, written "Q31".
type MatchID struct {
	Stage  Stage
	Number int
}

var (
	matchForm = regexp.MustCompile(`^([WQPF])([1-9][0-9]{0,3})$`)
	teamForm  = regexp.MustCompile(`^[1-9][0-9]{0,4}[A-Z]?$`)
)

// ParseMatch reads "Q31".
func ParseMatch(s string) (MatchID, error) {
	m := matchForm.FindStringSubmatch(s)
	if m == nil {
		return MatchID{}, fmt.Errorf("%q is not a match: write W, Q, P or F and a number from 1 to 9999, such as Q31", s)
	}
	n, err := strconv.Atoi(m[2])
	if err != nil {
		return MatchID{}, fmt.Errorf("read match %q: %w", s, err)
	}
	return MatchID{Stage: Stage(m[1]), Number: n}, nil
}

// Playoffs reports whether the match is of the playoffs, the final included.
func (m MatchID) Playoffs() bool { return m.Stage == PlayoffStage || m.Stage == Final }

// String writes "Q31"; the zero MatchID gives "".
func (m MatchID) String() string {
	if m == (MatchID{}) {
		return ""
	}
	return string(m.Stage) + strconv.Itoa(m.Number)
}

// Compare orders matches as they are played: W, Q, P, F, then by number.
func (m MatchID) Compare(o MatchID) int {
	return cmp.Or(
		cmp.Compare(strings.Index(stageOrder, string(m.Stage)), strings.Index(stageOrder, string(o.Stage))),
		cmp.Compare(m.Number, o.Number),
	)
}

// MarshalText writes "Q31".
func (m MatchID) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads "Q31".
func (m *MatchID) UnmarshalText(b []byte) error {
	id, err := ParseMatch(string(b))
	if err == nil {
		*m = id
	}
	return err
}

// ValidTeam reports whether s has the form of a team number.
func ValidTeam(s string) bool { return teamForm.MatchString(s) }

// CompareTeams orders team numbers by number, then by letter.
func CompareTeams(a, b TeamID) int {
	na, la := splitTeam(a)
	nb, lb := splitTeam(b)
	return cmp.Or(cmp.Compare(na, nb), cmp.Compare(la, lb))
}

func splitTeam(t TeamID) (int, string) {
	digits := strings.TrimRight(string(t), "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
	n, _ := strconv.Atoi(digits) // not a number: 0, such a team sorts first
	return n, string(t)[len(digits):]
}
